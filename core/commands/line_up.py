"""The command ``line-up``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from ..jobs import line_up as job
from ..jobs.part import LiningUp
from ..progress import Progress, report_progress, within
from .landmarks import add_landmarks, read_pairs
from .locating import add_locating, locating_of
from .meshes import add_mesh, add_out, read_part, told, write_mesh

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
    parser.add_argument("--finish-mm", metavar="MM", type=float, default=job.Request.finish_mm,
                        help="paint on the finished shape, if it was scanned painted and the panel is bare (0)")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Line up and write the panel where it belongs."""
    report_progress(progress, 0.0, "Reading the meshes")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    target = read_part(arguments.target, arguments.target_unit, "target")
    landmarks = read_pairs(arguments.landmarks, panel.mm_per_unit, target.mm_per_unit)
    asked = LiningUp(landmarks, locating_of(arguments), panel.marked(arguments.aside, "--aside"))
    request = job.Request(panel.part, target.part, asked, arguments.finish_mm)
    found = job.run(request, within(progress, 0.1, 0.9))
    paths = write_mesh(arguments.out, found, "line-up")
    progress(1.0, "Done")
    return told(_lines(panel.file, found.record), (*found.record["turned"], *found.warnings), paths)


def _lines(file: str, figures: dict[str, Any]) -> list[str]:
    by = figures["located_by"]
    lines = [
        f"{file} lies on the finished shape within {figures['residual_mm']:.3f} mm (root mean square) on sound metal,",
        f"{figures['sound_share']:.0%} of the panel; known to {figures['uncertainty_mm']['u95_max']:.3f} mm (95 %) "
        f"everywhere, it can't slide in {figures['held_directions']} of 6 directions",
    ]
    if by is not None:
        lines.append(f"Located by {by['holes']} of {by['of_holes']} holes and {by['rim_mm']:.0f} mm of edge; "
                     f"it may still slide by {figures['slide_u95_mm']:.1f} mm (95 %)")
    return lines
