"""Polygons of a file, cut into triangles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Ints


def whole(numbers: NDArray[np.generic], where: str) -> Ints:
    """``numbers`` (n,) of any real type as int64; an InputError where one is not whole.

    >>> whole(np.array([0.0, 7.0]), "panel")
    array([0, 7])
    >>> whole(np.array([0.5]), "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel has a face whose point numbers are not whole numbers; export it again
    """
    if numbers.dtype.kind == "f":
        real = numbers.astype(np.float64)
        if not ((np.trunc(real) == real) & (np.abs(real) < 2.0**53)).all():
            raise InputError(f"{where} has a face whose point numbers are not whole numbers; export it again")
    return numbers.astype(np.int64, copy=False)


def fanned(sides: Ints, corners: Ints) -> Ints:
    """Triangles (m, 3) of polygons, each cut as a fan from its first corner, in the polygons' order.

    ``sides`` (p,) is each polygon's number of corners, ``corners`` (sum of sides,) their vertex
    numbers one after the other. The winding is kept. A polygon of fewer than three corners
    has no area and gives no triangle; one that is not convex may fold over.

    >>> fanned(np.array([4, 3]), np.array([0, 1, 2, 3, 7, 8, 9]))
    array([[0, 1, 2],
           [0, 2, 3],
           [7, 8, 9]])
    >>> fanned(np.array([2]), np.array([0, 1])).shape
    (0, 3)
    """
    if (sides == 3).all():
        return corners.reshape(-1, 3)
    start = np.cumsum(sides) - sides
    count = np.maximum(sides - 2, 0)
    first = np.repeat(start, count)
    step = np.arange(len(first)) - np.repeat(np.cumsum(count) - count, count)
    return np.stack([corners[first], corners[first + step + 1], corners[first + step + 2]], axis=1)
