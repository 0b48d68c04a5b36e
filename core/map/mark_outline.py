"""The line around what is marked on a mesh, to be looked at. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


def mark_outline(triangles: Ints, marked: Mask) -> tuple[Ints, Ints]:
    """The edges around the triangles (m, 3) whose corners are all ``marked`` (n,): vertices used (k,), edges (e, 2).

    The edges count in the vertices used. Nothing for no such triangle.

    >>> quad = np.array([[0, 1, 2], [1, 3, 2]])
    >>> mark_outline(quad, np.ones(4, dtype=bool))
    (array([0, 1, 2, 3]), array([[0, 1],
           [0, 2],
           [1, 3],
           [2, 3]]))
    >>> len(mark_outline(quad, np.zeros(4, dtype=bool))[1])
    0
    """
    inside = triangles[marked[triangles].all(axis=1)]
    sides = np.sort(np.concatenate([inside[:, [0, 1]], inside[:, [1, 2]], inside[:, [2, 0]]]), axis=1)
    edges, count = np.unique(sides, axis=0, return_counts=True)
    used, row = np.unique(edges[count == 1], return_inverse=True)
    return used.astype(np.int64), row.reshape(-1, 2).astype(np.int64)
