"""The command ``line-up``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

import numpy as np

from ..place.onto import Landmarks, Onto, onto, read_landmarks
from ..progress import Progress, tell
from ..surface.nearest import Tree
from ..surface.reading import bytes_of
from ..surface.units import MM_PER_UNIT
from .meshes import Mesh, add_mesh, add_out, ready, told, write_mesh

DESCRIPTION = """\
Bring a scan into the finished shape's frame, by its sound metal.

Damage takes no part. With --landmarks, three or more matching points give the start, each may be 5 mm wrong, and the
axes may differ. Without, the likely turns are tried, and a doubtful one is said."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel, in any frame")
    add_mesh(parser, "target", "finished shape")
    add_landmarks(parser)
    parser.add_argument("--aside", metavar="FILE", type=Path,
                        help="parts that take no part (handle, glass): vertex numbers, or a PLY with a vertex property")
    add_out(parser)


def add_landmarks(parser: ArgumentParser) -> None:
    """The file of matching points as an argument."""
    parser.add_argument("--landmarks", metavar="FILE",
                        help="text file of matching points, a line each: x y z on the panel, x y z on the shape")


def landmarks_of(path: str | None, panel_unit: str, target_unit: str) -> Landmarks | None:
    """The landmarks in the file, or None where none is given."""
    if path is None:
        return None
    text = bytes_of(Path(path), "landmarks").tobytes().decode("utf-8-sig", errors="replace")
    return read_landmarks(text, path, MM_PER_UNIT[panel_unit], MM_PER_UNIT[target_unit])


def run(arguments: Namespace, progress: Progress) -> str:
    """Line up and write the panel where it belongs."""
    tell(progress, 0.0, "Reading the meshes")
    panel = ready(arguments.panel, arguments.panel_unit, "panel")
    target = ready(arguments.target, arguments.target_unit, "target")
    landmarks = landmarks_of(arguments.landmarks, panel.reading.unit, target.reading.unit)
    aside = None if arguments.aside is None else panel.marked(arguments.aside)
    found = onto(
        panel.surface, target.surface, Tree(target.surface), landmarks, aside,
        lambda share, step: progress(0.1 + 0.8 * share, step),
    )
    figures = {"panel": panel.record(), "target": target.record(), **line_up_record(found)}
    paths = write_mesh(arguments.out, found.panel, figures, "line-up")
    progress(1.0, "Done")
    return told(_lines(panel, found), found.warnings, paths)


def line_up_record(found: Onto) -> dict[str, Any]:
    """A line-up for JSON: ``matrix`` (4 x 4, mm) takes the panel's own frame into the shape's."""
    fit, panel = found.fit, found.panel
    held = fit.worth.placing.at(panel.vertices, panel.vertex_normals)
    return {
        "matrix": found.motion.matrix().tolist(),
        "turned": list(found.turned),
        "residual_mm": fit.residual_mm,
        "sound_share": fit.share,
        "noise": {"sigma_mm": fit.noise.sigma_mm, "correlation_mm": fit.noise.length_mm, "source": fit.noise.source},
        "uncertainty_mm": {"max": float(held.max()), "rms": float(np.sqrt(np.mean(held**2)))},
        "held_directions": fit.worth.held,
        "slide_u95_mm": fit.worth.slide_mm,
        "sureness": found.sureness,
        "warnings": list(found.warnings),
    }


def _lines(panel: Mesh, found: Onto) -> list[str]:
    fit = found.fit
    held = fit.worth.placing.at(found.panel.vertices, found.panel.vertex_normals)
    return [
        f"{panel.file} lies on the finished shape within {fit.residual_mm:.3f} mm (root mean square) on sound metal,",
        f"{fit.share:.0%} of the panel; known to {fit.noise.factor_95 * held.max():.3f} mm (95 %) everywhere, "
        f"{fit.worth.held} of 6 directions held",
    ]
