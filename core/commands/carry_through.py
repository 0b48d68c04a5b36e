"""The command ``carry-through``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..progress import Progress, tell
from ..shape.carry_through import Carried, carry_through
from ..surface.points import read_points
from ..surface.units import MM_PER_UNIT
from .meshes import add_mesh, add_out, number, ready, told, write_mesh

DESCRIPTION = """\
Carry Through: the sound metal around the damage continued through it, where there is no good side.

Mark the damage, with a little sound metal around it, in --mask. A crease that runs through it stays sharp where you
give its line. The trust figure is the same fill tried on sound metal near by."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel")
    parser.add_argument("--mask", metavar="FILE", type=Path, required=True,
                        help="damaged vertices: a text file of vertex numbers, or a PLY with a vertex property")
    parser.add_argument("--crease", metavar="FILE", type=Path, action="append", default=[],
                        help="a crease's line, x y z a point, in PANEL's unit; may be given again")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Carry through and write the finished shape."""
    tell(progress, 0.0, "Reading the panel")
    panel = ready(arguments.panel, arguments.panel_unit, "panel")
    mask = panel.marked(arguments.mask)
    scale = MM_PER_UNIT[panel.reading.unit]
    creases = tuple(read_points(path, "crease") * scale - panel.surface.origin for path in arguments.crease)
    found = carry_through(panel.surface, mask, creases, lambda s, step: progress(0.1 + 0.8 * s, step))
    figures = {"panel": panel.record(), **carried_record(found)}
    paths = write_mesh(arguments.out, found.surface, figures, "carry-through")
    progress(1.0, "Done")
    return told([carried_line(found)], found.warnings, paths)


def carried_record(found: Carried) -> dict[str, object]:
    """A carried-through shape for JSON."""
    return {
        "places": len(found.degrees), "degrees": list(found.degrees), "trust_mm_95": number(found.trust_mm),
        "moved_mm": {"up": float(found.moved_mm.max()), "down": float(-found.moved_mm.min())},
        "warnings": list(found.warnings),
    }


def carried_line(found: Carried) -> str:
    """What was done, in words."""
    count = len(found.degrees)
    trust = number(found.trust_mm)
    worth = "no trust figure: too little sound metal near by to try it on" if trust is None else (
        f"the same fill on sound metal near by was right within {trust:.2f} mm (95 %)")
    return f"{count} damaged place{'' if count == 1 else 's'} carried through; {worth}"
