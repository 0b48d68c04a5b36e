"""The command ``good-side``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..errors import InputError
from ..files.points import read_points
from ..files.units import MM_PER_UNIT
from ..place.symmetry import find_symmetry, plane_through
from ..progress import Progress, tell
from ..shape.good_side import good_side
from ..shape.sides_trust import trust_of_image
from ..surface.surface import Floats, Surface
from .locating import add_locating, locating_of
from .meshes import add_mesh, add_out, number, ready, told, write_mesh

DESCRIPTION = """\
From the Good Side: the body mirrored, so that its good side is the finished shape of its bad one.

The plane is found by itself with the damage left out, from the whole body or from two matching panels (--partner), or
from three points. Bodies are not exactly symmetric: how nearly is said, and a PLY carries how far apart the sides lie
at each vertex (apart_mm, positive where the mirrored side lies lower)."""


_HUNG = "two panels seldom hang alike: plan the bad one against this shape with --line-up"


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "body", "scan of the whole part, or of the good panel")
    parser.add_argument("--partner", metavar="FILE", type=Path, help="the other side's panel, in the same frame")
    parser.add_argument("--plane", metavar="FILE", type=Path,
                        help="text file of three points near the plane, x y z a line, in BODY's unit")
    parser.add_argument("--good", metavar=("X", "Y", "Z"), type=float, nargs=3,
                        help="a point on the good side of a whole body (else the side that is less pushed in)")
    parser.add_argument("--aside", metavar="FILE", type=Path, help="vertices of BODY that take no part")
    add_locating(parser)
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Find the plane and write the mirrored body."""
    if arguments.good is not None and arguments.partner is not None:
        raise InputError("--good is for one whole body; with --partner the body given first is the good panel")
    tell(progress, 0.0, "Reading the mesh")
    body = ready(arguments.body, arguments.body_unit, "body")
    partner = None
    if arguments.partner is not None:
        partner = ready(arguments.partner, arguments.body_unit, "partner").surface.about(body.surface.origin)
    start = None
    if arguments.plane is not None:
        points = read_points(arguments.plane, "plane") * MM_PER_UNIT[body.reading.unit]
        start = plane_through(points - body.surface.origin)
    aside = None if arguments.aside is None else body.marked(arguments.aside, "--aside")
    found = find_symmetry(
        body.surface, start, partner, aside, locating_of(arguments), lambda s, step: progress(0.1 + 0.8 * s, step)
    )
    plane, side, warnings = found.plane, None, found.warnings
    good = None
    if arguments.good is not None:
        good = np.array(arguments.good) * MM_PER_UNIT[body.reading.unit] - body.surface.origin
    if partner is None:
        half = good_side(body.surface, found, good, aside)
        shape, side, warnings = half.surface, half.side, (*warnings, *half.warnings)
    else:  # a good panel is mirrored whole
        shape, warnings = plane.surface(body.surface), (*warnings, _HUNG)
    figures = {
        "body": body.record(),
        "plane": {"normal": plane.normal.tolist(),
                  "offset_mm": plane.offset_mm + float(plane.normal @ body.surface.origin)},
        "good_side": side,
        "off_mm_95": number(found.off_mm),
        "uncertainty_mm": number(np.sqrt(np.nanmean(found.held_mm**2))),
        "sound_share": found.fit.share,
        "warnings": list(warnings),
    }
    trust = trust_of_image(body.surface, found, shape, body.trust)
    paths = write_mesh(
        arguments.out, shape, figures, "good-side", {"apart_mm": _kept(found.apart_mm, shape)}, trust=trust
    )
    progress(1.0, "Done")
    whose = "the other panel's mirror image" if partner is not None else "its own mirror image"
    lines = [f"{body.file} is {whose} within {found.off_mm:.2f} mm on 95 % of its sound metal, "
             f"which is {found.fit.share:.0%} of it"]
    lines += [] if side is None else [f"The good side is the one {side} of the plane"]
    return told(lines, warnings, paths)


def _kept(values: Floats, shape: Surface) -> Floats:
    """Values of the body's vertices for those that are left in ``shape``."""
    row = shape.row_of_input
    if row is None:
        return values
    kept = np.full(len(shape.vertices), np.nan)
    kept[row[row >= 0]] = values[row >= 0]
    return kept
