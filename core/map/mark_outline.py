"""The line around what is marked on a mesh, to be looked at. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..surface.border import border

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


def mark_outline(triangles: Ints, marked: Mask) -> tuple[Ints, Ints]:
    """The edges around the triangles (m, 3) whose corners are all ``marked`` (n,): vertices used (k,), edges (e, 2).

    The edges count in the vertices used. Nothing for no such triangle.

    >>> quad = np.array([[0, 1, 2], [1, 3, 2]])
    >>> mark_outline(quad, np.ones(4, dtype=bool))
    (array([0, 1, 2, 3]), array([[0, 1],
           [2, 0],
           [1, 3],
           [3, 2]]))
    >>> len(mark_outline(quad, np.zeros(4, dtype=bool))[1])
    0
    """
    inside = triangles[marked[triangles].all(axis=1)]
    start, end, _ = border(inside)
    used, row = np.unique(np.stack([start, end], axis=1), return_inverse=True)
    return used, row.reshape(-1, 2)
