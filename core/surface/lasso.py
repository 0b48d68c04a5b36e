"""Which points of a mesh lie inside an outline drawn on the screen, on the side that is seen. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

# Surface's own names for these come with scipy, which stays out of Blender's process.
Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
_NEAR = 1e-9


def inside_lasso(points: ArrayLike, triangles: ArrayLike, to_screen: ArrayLike, outline: ArrayLike) -> Mask:
    """True for the points (n, 3) inside ``outline`` (k, 2) that belong to triangles (m, 3) facing the viewer, (n,).

    ``to_screen`` (4, 4) takes a point to the screen: the first two of its numbers over the fourth, y upward, in the
    outline's unit; points with a fourth number of 0 or less lie behind the viewer. Inside is even-odd. A
    scan that is inside out turns its back to the viewer: the side that covers more of the screen counts as seen.
    An outline of fewer than three corners holds nothing.

    >>> sheet = [[0, 0, 0], [2, 0, 0], [0, 2, 0]]
    >>> inside_lasso(sheet, [[0, 1, 2]], np.eye(4), [[-1, -1], [3, -1], [3, 1], [-1, 1]]).tolist()
    [True, True, False]
    >>> inside_lasso(sheet, [[0, 1, 2]], np.eye(4), [[0, 0], [1, 1]]).tolist()
    [False, False, False]
    """
    corners = np.asarray(outline, dtype=np.float64).reshape(-1, 2)
    spots, before = _on_screen(np.asarray(points, dtype=np.float64), np.asarray(to_screen, dtype=np.float64))
    inside = np.zeros(len(spots), dtype=bool)
    if len(corners) < 3:
        return inside
    low, high = corners.min(axis=0), corners.max(axis=0)
    near = np.flatnonzero(before & (spots >= low).all(axis=1) & (spots <= high).all(axis=1))
    inside[near] = _even_odd(spots[near], corners)
    return inside & _seen(spots, before, np.asarray(triangles, dtype=np.int64).reshape(-1, 3), inside)


def _on_screen(points: Floats, to_screen: Floats) -> tuple[Floats, Mask]:
    """Where points come to lie on the screen (n, 2), and which lie before the viewer."""
    four = points @ to_screen[:, :3].T + to_screen[:, 3]
    before: Mask = four[:, 3] > _NEAR
    depth = np.where(before, four[:, 3], 1.0)
    spots: Floats = four[:, :2] / depth[:, None]
    return spots, before


def _even_odd(spots: Floats, corners: Floats) -> Mask:
    """Which spots a ray to the right leaves the outline from an odd number of times."""
    odd = np.zeros(len(spots), dtype=bool)
    x, y = spots.T
    for (ax, ay), (bx, by) in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        if ay == by:
            continue
        crosses = ((ay > y) != (by > y)) & (x < ax + (y - ay) * ((bx - ax) / (by - ay)))
        odd ^= crosses
    return odd


def _seen(spots: Floats, before: Mask, triangles: NDArray[np.int64], inside: Mask) -> Mask:
    """Which points belong to a triangle on the side that covers more of the outline."""
    near = triangles[inside[triangles].any(axis=1) & before[triangles].all(axis=1)]
    a, b, c = (spots[near[:, k]] for k in range(3))
    double = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    front = double > 0 if double.sum() >= 0 else double < 0
    seen = np.zeros(len(spots), dtype=bool)
    seen[near[front]] = True
    return seen
