"""Points in a text file."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..errors import InputError
from ..surface.surface import Floats
from .mesh_file import bytes_of


def read_points(path: Path, name: str) -> Floats:
    """Points (k, 3) from lines of three numbers, commas or spaces between; # begins a comment.

    Raises InputError, that ``name`` begins, for other lines and for fewer than two points.
    """
    text = bytes_of(path, name).tobytes().decode("utf-8-sig", errors="replace")
    rows = [line.partition("#")[0].replace(",", " ").split() for line in text.splitlines()]
    try:
        points = np.array([[float(word) for word in row] for row in rows if row])
    except ValueError as error:
        raise InputError(f"{name}: {path} is not lines of three numbers; write x y z, a point a line") from error
    if points.ndim != 2 or points.shape[1:] != (3,) or len(points) < 2 or not np.isfinite(points).all():
        raise InputError(f"{name}: {path} is not two or more lines of three numbers; write x y z, a point a line")
    return points
