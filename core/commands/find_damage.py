"""The command ``find-damage``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..files.atomic_write import atomic_write
from ..jobs import find_damage as job
from ..jobs.result import Result
from ..progress import Progress, report_progress, within
from ..surface.surface import Mask
from .meshes import add_mesh, add_quiet, read_part, told

DESCRIPTION = """\
Find the Damage: mark what of a panel is bent otherwise than the metal around it.

Look at the marks, and take out what is no damage (a pocket looks like a dent). They are vertex numbers, as --mask,
--aside and --work-area take them."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel")
    parser.add_argument("--out", metavar="FILE", type=Path, required=True, help="text file to write, of vertex numbers")
    add_quiet(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Find the damage and write its marks."""
    report_progress(progress, 0.0, "Reading the panel")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    found = job.run(job.Request(panel.part), within(progress, 0.1, 0.9))
    paths = atomic_write(arguments.out.parent, {arguments.out.name: numbers(damaged(found))})
    progress(1.0, "Done")
    return told([f"Damage found from the curvature: {found.record['area_mm2'] / 100:.0f} cm²"], found.warnings, paths)


def damaged(found: Result) -> Mask:
    """The vertices (k,) of the panel's file that look damaged."""
    assert found.map_mm is not None
    marks: Mask = found.map_mm > 0
    return marks


def numbers(marks: Mask) -> bytes:
    """Vertex numbers as the panel's file counts them, in the form that --mask reads."""
    return ("# damage suggested from the curvature: vertex numbers, counted from 0\n"
            + "\n".join(map(str, np.flatnonzero(marks))) + "\n").encode()
