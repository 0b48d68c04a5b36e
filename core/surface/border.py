"""The border of a set of triangles: the sides that one of them alone has. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


def border(triangles: Ints, owner: Ints | None = None) -> tuple[Ints, Ints, Ints]:
    """Start (s,), end (s,) and triangle (s,) of each border side of ``triangles`` (t, 3), as the triangle runs.

    ``owner`` (t,): to which part each triangle belongs, each part with a border of its own; by default all to one.
    Sides come in the order of the triangles. A side of three triangles or more is no border. Nothing for no triangle.

    >>> quad = np.array([[0, 1, 2], [1, 3, 2]])
    >>> border(quad)
    (array([0, 2, 1, 3]), array([1, 0, 3, 2]), array([0, 0, 1, 1]))
    >>> len(border(quad, np.array([1, 2]))[0])
    6
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    row = np.repeat(np.arange(len(triangles)), 3)
    n = int(triangles.max()) + 1 if len(triangles) else 1
    part = 0 if owner is None else owner[row]
    key = (part * n + np.minimum(start, end)) * n + np.maximum(start, end)
    _, first, count = np.unique(key, return_index=True, return_counts=True)
    side = np.sort(first[count == 1])
    return start[side], end[side], row[side]
