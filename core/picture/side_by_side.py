"""Two meshes laid side by side and seen from outside, to be compared by eye. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_GAP = 0.08
_ONE_SIDED = 0.01  # of the area, for a mesh to have an outside that can be looked at


def side_by_side(
    points: Floats, triangles: Ints, other: Floats, other_triangles: Ints, scale: float
) -> tuple[Floats, Floats]:
    """The matrix (4, 4) that lays ``points`` (n, 3), ``scale`` times as large, left of ``other`` (k, 3); axes (3, 3).

    Of the axes, which are rows, x points right, y up and z at the onlooker, who sees the outside of both, the longer
    way across. Which end is left is not known: either may be upside down against the other.

    >>> square = np.array([[0.0, 0, 0], [2, 0, 0], [2, 1, 0], [0, 1, 0]])
    >>> rows = np.array([[0, 1, 2], [0, 2, 3]])
    >>> matrix, axes = side_by_side(square[:, [2, 0, 1]] / 10, rows, square, rows, 10.0)
    >>> (square[:, [2, 0, 1]] / 10 @ matrix[:3, :3].T + matrix[:3, 3])[:, 0].round(6)  # left of 0 to 2, 0.16 between
    array([-2.16, -0.16, -0.16, -2.16])
    >>> axes.round(6) + 0.0
    array([[1., 0., 0.],
           [0., 1., 0.],
           [0., 0., 1.]])
    """
    own, axes = outward_axes(points, triangles), outward_axes(other, other_triangles)
    turn = scale * axes.T @ own
    along = points @ turn.T @ axes.T
    beside = other @ axes.T
    low, high = along.min(axis=0), along.max(axis=0)
    to_low, to_high = beside.min(axis=0), beside.max(axis=0)
    gap = _GAP * max(high[0] - low[0], to_high[0] - to_low[0])
    shift = 0.5 * (to_low + to_high) - 0.5 * (low + high)
    shift[0] = to_low[0] - gap - high[0]
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = turn, shift @ axes
    return matrix, axes


def outward_axes(points: Floats, triangles: Ints) -> Floats:
    """Right, up and outward of a sheet, as rows (3, 3); right is the way that it is longest."""
    a, b, c = (points[triangles[:, k]] for k in range(3))
    first, second = b - a, c - a
    twice = np.stack([first[:, i] * second[:, j] - first[:, j] * second[:, i] for i, j in ((1, 2), (2, 0), (0, 1))])
    out, whole = twice.sum(axis=1), float(np.linalg.norm(twice, axis=0).sum())
    spread = points - points.mean(axis=0)
    ways = np.linalg.eigh(spread.T @ spread)[1]
    size = float(np.linalg.norm(out))
    out = out / size if size > _ONE_SIDED * whole else ways[:, 0]  # a closed body has no side of its own
    right = ways[:, 2] - (ways[:, 2] @ out) * out
    if np.linalg.norm(right) < 0.1:
        right = ways[:, 1] - (ways[:, 1] @ out) * out
    right = right / np.linalg.norm(right)
    right = right * np.sign(right[np.argmax(np.abs(right))])
    return np.stack([right, np.cross(out, right), out])
