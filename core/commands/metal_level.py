"""The command ``metal-level``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace

from ..jobs import metal_level as job
from ..progress import Progress, report_progress, within
from .meshes import add_mesh, add_out, read_part, told, write_mesh

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
    report_progress(progress, 0.0, "Reading the finished shape")
    target = read_part(arguments.target, arguments.target_unit, "target", lined_up=True)
    found = job.run(job.Request(target.part, arguments.filler_mm), within(progress, 0.1, 0.9))
    paths = write_mesh(arguments.out, found, "metal-level")
    progress(1.0, "Done")
    return told([f"{target.file} set in by {arguments.filler_mm:g} mm"], found.warnings, paths)
