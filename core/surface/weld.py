"""Weld points by position, drop triangles without area, and order both along a space-filling curve."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .surface import Floats, Ints, Mask, Surface

_MIX = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], dtype=np.uint64)


def welded(surface: Surface) -> Surface:
    """The same surface with points at the very same place made one.

    A seam that a file keeps for texture or normals is no rim. Equal means equal to the last bit:
    every exporter writes the two sides of a seam from one number.

    >>> v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 0, 0], [1, 1, 0], [-0.0, 1, 0]])
    >>> welded(Surface(v, np.array([[0, 1, 2], [3, 4, 5]]))).triangles.max().item()
    3
    """
    row = same_place(surface.vertices)
    first = np.unique(row)
    if len(first) == len(row):
        return replace(surface, row_of_input=_came(surface, np.arange(len(row))))
    new = np.empty(len(row), dtype=np.int64)
    new[first] = np.arange(len(first))
    row = new[row]
    return Surface(surface.vertices[first], row[surface.triangles], surface.origin, _came(surface, row))


def same_place(points: Floats) -> Ints:
    """For each point (n, 3) the first row at the very same place, (n,).

    >>> same_place(np.array([[1.0, 2, 3], [4, 5, 6], [1, 2, 3]]))
    array([0, 1, 0])
    """
    x, y, z = (np.ascontiguousarray(points[:, k] + 0.0).view(np.uint64) for k in range(3))  # + 0.0: -0.0 is 0.0
    key = (x * _MIX[0] ^ (y * _MIX[1] >> np.uint64(7))) + (z * _MIX[2] ^ (z * _MIX[2] >> np.uint64(29)))
    order = np.argsort(key)
    starts = _steps(x, y, z, order)
    if int(starts.sum()) > 1 + int((np.diff(key[order]) != 0).sum()):  # two places share a key: sort by place
        order = np.lexsort((z, y, x))
        starts = _steps(x, y, z, order)
    first = np.empty(len(order), dtype=np.int64)
    lowest = np.minimum.reduceat(order, np.flatnonzero(starts)) if len(order) else order  # the sort is not stable
    first[order] = lowest[np.cumsum(starts) - 1]
    return first


def _steps(x: NDArray[np.uint64], y: NDArray[np.uint64], z: NDArray[np.uint64], order: Ints) -> Mask:
    """Where, in ``order``, a point is not at the place of the one before it."""
    starts = np.zeros(len(order), dtype=bool)
    starts[:1] = True
    for column in (x, y, z):
        placed = column[order]
        starts[1:] |= placed[1:] != placed[:-1]
    return starts


def along_curve(surface: Surface) -> Surface:
    """The same surface with vertices and triangles in the order of a space-filling (Morton) curve.

    Neighbours in space become neighbours in memory: a tree query of a shuffled scan is 5 times
    slower than that of an ordered one. A surface that is already in such an order stays as it is.
    Source: Morton 1966, "A computer oriented geodetic data base" (from memory).
    """
    if _already_local(surface):
        return surface
    order = np.argsort(_morton(surface.vertices, surface.box))
    new = np.empty(len(order), dtype=np.int64)
    new[order] = np.arange(len(order))
    triangles = new[surface.triangles]
    triangles = triangles[np.argsort(triangles.min(axis=1), kind="stable")]
    return Surface(surface.vertices[order], triangles, surface.origin, _came(surface, new))


def _already_local(surface: Surface) -> bool:
    """Whether a step to the next triangle in the list is, nearly always, a short step in space."""
    sample = np.linspace(0, len(surface.triangles) - 2, 2000).astype(np.int64)
    if len(surface.triangles) < 2000:
        return True
    here = surface.vertices[surface.triangles[sample, 0]]
    step = np.abs(surface.vertices[surface.triangles[sample + 1, 0]] - here).max(axis=1)
    side = np.abs(surface.vertices[surface.triangles[sample, 1]] - here).max(axis=1)
    return bool(np.mean(step <= 4 * side) > 0.95)


def _morton(points: Floats, box: tuple[Floats, Floats]) -> NDArray[np.uint64]:
    """Place along a Morton curve of 2^20 cells a side, (n,)."""
    low, high = box
    cell = max(float((high - low).max()), 1e-30) / (2**20 - 1)
    x, y, z = (_spread(((points[:, k] - low[k]) / cell).astype(np.uint64)) for k in range(3))
    place: NDArray[np.uint64] = x | (y << np.uint64(1)) | (z << np.uint64(2))
    return place


def _spread(x: NDArray[np.uint64]) -> NDArray[np.uint64]:
    """Two zero bits put between the bits of each number (up to 21 bits)."""
    for shift, mask in ((32, 0x1F00000000FFFF), (16, 0x1F0000FF0000FF), (8, 0x100F00F00F00F00F),
                        (4, 0x10C30C30C30C30C3), (2, 0x1249249249249249)):
        x = (x | (x << np.uint64(shift))) & np.uint64(mask)
    return x


def _came(surface: Surface, row: Ints) -> Ints:
    """Where the vertices that came lie now, when this surface's rows moved to ``row``."""
    before = surface.row_of_input
    return row if before is None else np.where(before >= 0, row[before], -1)
