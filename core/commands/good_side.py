"""The command ``good-side``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..files.points import read_points
from ..jobs import good_side as job
from ..progress import Progress, report_progress, within
from .locating import add_locating, locating_of
from .meshes import add_mesh, add_out, read_part, told, write_mesh

DESCRIPTION = """\
From the Good Side: the body mirrored, so that its good side is the finished shape of its bad one.

The plane is found by itself with the damage left out, from the whole body or from two matching panels (--partner), or
from three points. Bodies are not exactly symmetric: how nearly is said, and a PLY carries how far apart the sides lie
at each vertex (apart_mm, positive where the mirrored side lies lower)."""


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
    report_progress(progress, 0.0, "Reading the mesh")
    body = read_part(arguments.body, arguments.body_unit, "body")
    partner = arguments.partner
    request = job.Request(
        body.part,
        None if partner is None else read_part(partner, arguments.body_unit, "partner").part,
        None if arguments.plane is None else read_points(arguments.plane, "plane") * body.mm_per_unit,
        None if arguments.good is None else np.array(arguments.good) * body.mm_per_unit,
        locating_of(arguments), body.marked(arguments.aside, "--aside"),
    )
    found = job.run(request, within(progress, 0.1, 0.9))
    paths = write_mesh(arguments.out, found, "good-side")
    progress(1.0, "Done")
    figures = found.record
    whose = "the other panel's mirror image" if partner is not None else "its own mirror image"
    within_mm = "an unknown distance" if figures["off_mm_95"] is None else f"{figures['off_mm_95']:.2f} mm"
    lines = [f"{body.file} is {whose} within {within_mm} on 95 % of its sound metal, "
             f"which is {figures['sound_share']:.0%} of it"]
    lines += [] if figures["good_side"] is None else [f"The good side is the one {figures['good_side']} of the plane"]
    return told(lines, found.warnings, paths)
