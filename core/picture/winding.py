"""Which points lie inside outlines that may overlap, as the outlines of letters do."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def wound(points: Floats, starts: Floats, ends: Floats) -> NDArray[np.int64]:
    """How often closed outlines, edges from ``starts`` to ``ends`` (e, 2), run round each of ``points`` (k, 2),
    counter-clockwise positive: what is not 0 is inside, also where outlines overlap.

    Crossings of the ray to the right: Sunday 2001, "Inclusion of a Point in a Polygon".

    >>> corners = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> wound(np.array([[1.0, 1.0], [3.0, 1.0]]), corners, np.roll(corners, -1, axis=0)).tolist()
    [1, 0]
    >>> wound(np.empty((0, 2)), corners, corners).tolist()
    []
    """
    x, y = points[:, :1], points[:, 1:]
    (ax, ay), (bx, by) = starts.T, ends.T
    left = (bx - ax) * (y - ay) - (x - ax) * (by - ay)
    up, down = (ay <= y) & (by > y) & (left > 0), (ay > y) & (by <= y) & (left < 0)
    turns: NDArray[np.int64] = up.sum(axis=1) - down.sum(axis=1)
    return turns
