"""Matching points as an argument of several commands."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path

from ..files.mesh_file import bytes_of
from ..files.units import MM_PER_UNIT
from ..place.onto import Landmarks, read_landmarks


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
