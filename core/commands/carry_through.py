"""The command ``carry-through``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

import numpy as np

from ..depth.shape_trust import together
from ..errors import InputError
from ..files.points import read_points
from ..files.units import MM_PER_UNIT
from ..progress import Progress, tell
from ..shape.carry_through import Carried, carry_through
from ..shape.suggest import suggested_damage
from ..surface.surface import Mask
from .meshes import Mesh, add_mesh, add_out, number, ready, told, write_mesh

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
    tell(progress, 0.0, "Reading the panel")
    panel = ready(arguments.panel, arguments.panel_unit, "panel")
    scale = MM_PER_UNIT[panel.reading.unit]
    creases = tuple(read_points(path, "crease") * scale - panel.surface.origin for path in arguments.crease)
    if arguments.mask is None:
        mask = _suggested(panel, lambda s, step: progress(0.1 + 0.3 * s, step))
    else:
        mask = panel.marked(arguments.mask)
    try:
        found = carry_through(panel.surface, mask, creases, lambda s, step: progress(0.4 + 0.5 * s, step),
                              not arguments.no_lines)
    except InputError as error:
        if arguments.mask is not None:
            raise
        raise InputError(f"the damage as its curvature suggests it can't be carried through ({error}); mark the damage "
                         "yourself and give the marks as --mask") from error
    figures: dict[str, Any] = {"panel": panel.record(), **carried_record(found)}
    lines, warnings, beside = [carried_line(found)], found.warnings, dict[str, bytes]()
    if arguments.mask is None:
        name = arguments.out.stem + "-marks.txt"
        area_mm2 = float(panel.surface.vertex_areas[mask].sum())
        beside, warnings = {name: _numbers(panel, mask)}, (*warnings, _LOOK.format(marks=name))
        figures.update(suggested={"marks": name, "area_mm2": area_mm2}, warnings=list(warnings))
        places = f"{len(found.degrees)} place{'' if len(found.degrees) == 1 else 's'}"
        lines = [f"Damage suggested from the curvature: {places}, {area_mm2 / 100:.0f} cm2", *lines]
    paths = write_mesh(arguments.out, found.surface, figures, "carry-through", beside=beside,
                       trust=together(found.trust, panel.trust))
    progress(1.0, "Done")
    return told(lines, warnings, paths)


def _suggested(panel: Mesh, progress: Progress) -> Mask:
    """The vertices (n,) that look damaged, where any do."""
    mask = suggested_damage(panel.surface, progress)
    if not mask.any():
        raise InputError("panel: no damage stands out from its curvature; mark the damage and give the marks as --mask")
    return mask


def _numbers(panel: Mesh, mask: Mask) -> bytes:
    """Vertex numbers as the panel's file counts them, in the form that --mask reads."""
    row = panel.surface.row_of_input
    rows = np.flatnonzero(mask if row is None else (row >= 0) & mask[row])
    return ("# damage suggested from the curvature: vertex numbers, counted from 0\n"
            + "\n".join(map(str, rows)) + "\n").encode()


def carried_record(found: Carried) -> dict[str, object]:
    """A carried-through shape for JSON."""
    return {
        "places": len(found.degrees), "degrees": list(found.degrees), "trust_mm_95": number(found.trust_mm),
        "moved_mm": {"up": float(found.moved_mm.max()), "down": float(-found.moved_mm.min())},
        "lines_mm": [(line + found.surface.origin).tolist() for line in found.lines],
        "warnings": list(found.warnings),
    }


def carried_line(found: Carried) -> str:
    """What was done, in words."""
    count = len(found.degrees)
    trust = number(found.trust_mm)
    worth = "no trust figure: too little sound metal near by to try it on" if trust is None else (
        f"right within {trust:.2f} mm (95 %), going by the same fill on sound metal near by")
    across = len(found.lines)
    lined = "" if not across else (
        f", {across} line{'' if across == 1 else 's'} across continued (not so with --no-lines)")
    return f"{count} damaged place{'' if count == 1 else 's'} carried through{lined}; {worth}"
