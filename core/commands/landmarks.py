"""Matching points as an argument of several commands."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

import numpy as np

from ..files.mesh_file import bytes_of
from ..place.onto import read_landmarks
from ..surface.surface import Floats


def add_landmarks(parser: ArgumentParser) -> None:
    """The file of matching points as an argument."""
    parser.add_argument("--landmarks", metavar="FILE",
                        help="text file of matching points, a line each: x y z on the panel, x y z on the shape")


def read_pairs(path: str | None, panel_mm: float, target_mm: float) -> Floats | None:
    """The pairs of points (k, 2, 3) mm in the file, or None where none is given; ``..._mm``: in the files' units."""
    if path is None:
        return None
    text = bytes_of(Path(path), "landmarks").tobytes().decode("utf-8-sig", errors="replace")
    found = read_landmarks(text, path, panel_mm, target_mm)
    return np.stack([found.panel, found.target], axis=1)
