"""The command ``carry-through``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from dataclasses import replace
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..files.points import read_points
from ..jobs import carry_through as job
from ..jobs import find_damage
from ..jobs.result import Result
from ..progress import Progress, report_progress, within
from .find_damage import damaged, numbers
from .meshes import MeshPart, add_mesh, add_out, counted, read_part, told, write_mesh

DESCRIPTION = """\
Carry Through: the sound metal around the damage continued through it, where there is no good side.

Mark the damage, with a little sound metal around it, in --mask. Without --mask it is suggested from the panel's
curvature, and the suggested marks are written beside the shape: look at them, take out what is no damage (a pocket
looks like a dent), and give them as --mask. Swages, style lines and creases that enter and leave the damage in line are
continued through it, unless --no-lines; their middles stand in the JSON. Where you give a crease's line, that one is
taken alone. The trust figure is the same fill tried on sound metal near by."""
_LOOK = ("the damage was suggested from the curvature, not marked by you: look at {marks}, take out what is no damage "
         "(a pocket looks like a dent) and give it as --mask")


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel")
    parser.add_argument("--mask", metavar="FILE", type=Path,
                        help="damaged vertices: a text file of vertex numbers, or a PLY with a vertex property "
                             "(suggested from the curvature)")
    parser.add_argument("--crease", metavar="FILE", type=Path, action="append", default=[],
                        help="a crease's line, x y z a point, in PANEL's unit; may be given again")
    add_no_lines(parser)
    add_out(parser)


def add_no_lines(parser: ArgumentParser) -> None:
    """Declare what refuses the lines that are continued unasked."""
    parser.add_argument("--no-lines", action="store_true",
                        help="continue no swage, style line or crease through the damage unasked")


def run(arguments: Namespace, progress: Progress) -> str:
    """Carry through and write the finished shape, and the marks that were suggested."""
    report_progress(progress, 0.0, "Reading the panel")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    creases = tuple(read_points(path, "crease") * panel.mm_per_unit for path in arguments.crease)
    mask, lines = panel.marked(arguments.mask), not arguments.no_lines
    if mask is not None:
        found = job.run(job.Request(panel.part, mask, creases, lines), within(progress, 0.1, 0.9))
        said, beside = [carried_line(found.record)], dict[str, bytes]()
    else:
        name = arguments.out.stem + "-marks.txt"
        found, said, beside = _unasked(panel, creases, lines, name, progress)
    paths = write_mesh(arguments.out, found, "carry-through", beside)
    progress(1.0, "Done")
    return told(said, found.warnings, paths)


def _unasked(
    panel: MeshPart, creases: tuple[Any, ...], lines: bool, name: str, progress: Progress
) -> tuple[Result, list[str], dict[str, bytes]]:
    """The same with the damage that the curvature shows, whose marks go to a file called ``name``."""
    try:
        seen = find_damage.run(find_damage.Request(panel.part), within(progress, 0.1, 0.4))
    except InputError as error:
        raise InputError(f"{error}, and give the marks as --mask") from error
    mask, area_mm2 = damaged(seen), seen.record["area_mm2"]
    try:
        found = job.run(job.Request(panel.part, mask, creases, lines), within(progress, 0.4, 0.9))
    except InputError as error:
        raise InputError(f"the damage as its curvature suggests it can't be carried through ({error}); mark the damage "
                         "yourself and give the marks as --mask") from error
    warnings = [*found.warnings, _LOOK.format(marks=name)]
    record = {**found.record, "suggested": {"marks": name, "area_mm2": area_mm2}, "warnings": warnings}
    places = counted(len(record["degrees"]), "place")
    said = [f"Damage suggested from the curvature: {places}, {area_mm2 / 100:.0f} cm²", carried_line(record)]
    return replace(found, record=record), said, {name: numbers(mask)}


def carried_line(figures: dict[str, Any]) -> str:
    """What was done, in words."""
    trust, across = figures["trust_mm_95"], len(figures["lines_mm"])
    worth = "no trust figure: too little sound metal near by to try it on" if trust is None else (
        f"right within {trust:.2f} mm (95 %), going by the same fill on sound metal near by")
    lined = "" if not across else f", {counted(across, 'line')} across continued (not so with --no-lines)"
    return f"{counted(len(figures['degrees']), 'damaged place')} carried through{lined}; {worth}"
