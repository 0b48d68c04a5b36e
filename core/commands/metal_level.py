"""The command ``metal-level``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from ..errors import InputError
from ..progress import Progress, tell
from ..shape.shapes import metal_level
from .meshes import add_mesh, add_out, ready, told, write_mesh

DESCRIPTION = """\
Metal Level: the finished shape set in by the filler's thickness, what the metal should reach first.

A plan of the panel against it tells where the metal must first come up (its lows) and where it may stay."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "target", "finished shape")
    parser.add_argument("--filler-mm", metavar="MM", type=float, required=True, help="thickness of filler to leave")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Set the shape in and write it."""
    if not 0 < arguments.filler_mm <= 20:
        raise InputError(f"--filler-mm {arguments.filler_mm:g}: more than 0 and up to 20 mm is wanted")
    tell(progress, 0.0, "Reading the finished shape")
    target = ready(arguments.target, arguments.target_unit, "target", lined_up=True)
    tell(progress, 0.3, "Setting it in")
    level = metal_level(target.surface, arguments.filler_mm)
    figures = {"target": target.record(), "filler_mm": arguments.filler_mm, "warnings": list(level.warnings)}
    paths = write_mesh(arguments.out, level.surface, figures, "metal-level", trust=target.trust)
    progress(1.0, "Done")
    return told([f"{target.file} set in by {arguments.filler_mm:g} mm"], level.warnings, paths)
