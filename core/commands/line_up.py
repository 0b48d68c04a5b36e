"""The command ``line-up``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..errors import InputError
from ..place.onto import Onto, onto
from ..progress import Progress, tell
from ..report.line_up_record import line_up_record, placing_record
from ..report.made_shape import LINED_UP
from ..surface.nearest import Tree
from .landmarks import add_landmarks, landmarks_of
from .locating import add_locating, locating_of
from .meshes import Mesh, add_mesh, add_out, ready, told, write_mesh

DESCRIPTION = """\
Bring a scan into the finished shape's frame, by its sound metal.

Damage takes no part. With --landmarks, three or more matching points give the start, each may be 5 mm wrong, and the
axes may differ. Without, the likely turns are tried, and a doubtful one is said. A PLY carries how uncertain the
line-up leaves the depth of each vertex (uncertainty_mm, one standard deviation)."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel, in any frame")
    add_mesh(parser, "target", "finished shape")
    add_landmarks(parser)
    add_locating(parser)
    parser.add_argument("--aside", metavar="FILE", type=Path,
                        help="parts that take no part (handle, glass): vertex numbers, or a PLY with a vertex property")
    parser.add_argument("--finish-mm", metavar="MM", type=float, default=0.0,
                        help="paint on the finished shape, if it was scanned painted and the panel is bare (0)")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Line up and write the panel where it belongs."""
    if not abs(arguments.finish_mm) <= 10:
        raise InputError(f"--finish-mm {arguments.finish_mm:g}: at most 10 mm is wanted")
    tell(progress, 0.0, "Reading the meshes")
    panel = ready(arguments.panel, arguments.panel_unit, "panel")
    target = ready(arguments.target, arguments.target_unit, "target")
    landmarks = landmarks_of(arguments.landmarks, panel.reading.unit, target.reading.unit)
    aside = None if arguments.aside is None else panel.marked(arguments.aside, "--aside")
    found = onto(
        panel.surface, target.surface, Tree(target.surface), landmarks, aside, locating_of(arguments),
        arguments.finish_mm, lambda share, step: progress(0.1 + 0.8 * share, step),
    )
    figures = {"panel": panel.record(), "target": target.record(), "finish_mm": arguments.finish_mm,
               **line_up_record(found), "placing": placing_record(found.fit.worth.placing, target.surface.origin)}
    paths = write_mesh(
        arguments.out, found.panel, figures, "line-up", {LINED_UP: found.fit.held_mm},
        trust=None if panel.came is None else panel.came.moved(found.panel),
    )
    progress(1.0, "Done")
    return told(_lines(panel, found), (*found.turned, *found.warnings), paths)


def _lines(panel: Mesh, found: Onto) -> list[str]:
    fit, by = found.fit, found.fit.located
    known = fit.noise.factor_95 * float(np.nanmax(fit.held_mm))
    lines = [
        f"{panel.file} lies on the finished shape within {fit.residual_mm:.3f} mm (root mean square) on sound metal,",
        f"{fit.share:.0%} of the panel; known to {known:.3f} mm (95 %) everywhere, "
        f"it can't slide in {fit.worth.held} of 6 directions",
    ]
    if by is not None:
        lines.append(f"Located by {by.holes} of {by.of_holes} holes and {by.rim_mm:.0f} mm of edge; "
                     f"it may still slide by {fit.worth.slide_mm:.1f} mm (95 %)")
    return lines
