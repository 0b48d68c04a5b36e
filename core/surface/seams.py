"""Seams that rounding has opened: rim points of one place, told apart by the last bits of single precision."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from .nearest import pairs_within
from .surface import Floats, Ints, Surface, dot

# Parts of a file that are placed by turns and shifts of their own meet within a few roundings of single precision:
# 0.015 mm on a panel a metre long, never 0.2 mm, which is a gap (common practice, no source).
_SHARE, _MOST_MM = 1.5e-5, 0.05
_OF_EDGE = 0.2  # of the shortest side beside it: points that the mesh itself tells apart stay apart


def seams_closed(surface: Surface) -> Surface:
    """The same surface with rim points made one where rounding alone can have parted them.

    How far that is goes with the greatest coordinate, counted from the true origin: 15 millionths of it, at most
    0.05 mm. Points move by no more than that, to the first of them.

    >>> v = np.array([[0.0, 0, 0], [900, 0, 0], [0, 900, 0], [900, 0.004, 0], [900, 900, 0], [0.003, 900, 0]])
    >>> seams_closed(Surface(v, np.array([[0, 1, 2], [3, 4, 5]]))).triangles.tolist()
    [[0, 1, 2], [1, 3, 2]]
    """
    rim = np.flatnonzero(surface.on_rim)
    if not len(rim):
        return surface
    low, high = surface.box
    size = max(float(np.abs(end + surface.origin).max()) for end in (low, high))
    first, second = pairs_within(surface.vertices[rim], min(_SHARE * size, _MOST_MM))
    step = surface.vertices[rim[first]] - surface.vertices[rim[second]]
    shortest = _shortest_sides(surface)[rim]
    same = np.sqrt(dot(step, step)) <= _OF_EDGE * np.minimum(shortest[first], shortest[second])
    if not same.any():
        return surface
    return _joined(surface, rim[first[same]], rim[second[same]])


def _shortest_sides(surface: Surface) -> Floats:
    """Shortest side of the triangles around each rim vertex, (n,) mm; of others not all are asked."""
    shortest = np.full(len(surface.vertices), np.inf)
    triangles = surface.triangles[surface.on_rim[surface.triangles].any(axis=1)]
    for one, other in ((0, 1), (1, 2), (2, 0)):
        side = surface.vertices[triangles[:, one]] - surface.vertices[triangles[:, other]]
        length = np.sqrt(dot(side, side))
        for end in (one, other):
            np.minimum.at(shortest, triangles[:, end], length)
    return shortest


def _joined(surface: Surface, first: Ints, second: Ints) -> Surface:
    n = len(surface.vertices)
    ties = sparse.coo_matrix((np.ones(len(first), dtype=np.int8), (first, second)), shape=(n, n))
    count, place = connected_components(ties, directed=False)
    keeps = np.full(count, n)
    np.minimum.at(keeps, place, np.arange(n))
    row = np.argsort(np.argsort(keeps))[place]  # places in the order of the points that stand for them
    before = surface.row_of_input
    came = row if before is None else np.where(before >= 0, row[before], -1)
    return Surface(surface.vertices[np.sort(keeps)], row[surface.triangles], surface.origin, came)
