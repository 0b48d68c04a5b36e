"""The foot of a panel point: the nearest point among the target's triangles that face the same way.

Nearest-then-reject would lose the deepest metal wherever the target has a return flange or an inner
skin: there the nearest triangle of all is the wrong side of it. So the points whose nearest triangle
faces away are asked again, against the triangles that agree with them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface, dot, unit

# Finer and finer groups of panel normals; a group's tree holds what any of its members could agree with.
_DIRECTION_CELLS = (1, 3, 9, 27, 81)


@dataclass(frozen=True)
class Feet:
    """Where each point's foot lies.

    ``points`` (n, 3) mm; ``triangle`` (n,) rows of the target; ``distance_mm`` (n,), unsigned;
    ``in_reach`` (n,): any of the target, whichever way it faces, lies within reach;
    ``found`` (n,): an agreeing triangle lies within reach. Where not found, the rest has no meaning.
    """

    points: Floats
    triangle: Ints
    distance_mm: Floats
    in_reach: Mask
    found: Mask


def find_feet(points: Floats, normals: Floats, target: Surface, tree: Tree, reach_mm: float) -> Feet:
    """The foot of each of ``points`` (n, 3) mm with unit ``normals`` (n, 3) on ``target``.

    ``tree`` is the target's own. Exact but for triangles square to the point's normal within a degree.
    """
    near = tree.nearest(points)
    foot, triangle, distance = near.point, near.triangle, near.distance_mm
    in_reach = distance <= reach_mm
    found = in_reach & (dot(normals, target.normals[triangle]) > 0)
    again = np.flatnonzero(in_reach & ~found)
    if len(again):
        foot, triangle, distance = foot.copy(), triangle.copy(), distance.copy()
        for rows, better in _among_agreeing(points[again], normals[again], target, reach_mm):
            place = again[rows]
            foot[place], triangle[place], distance[place] = better
            found[place] = True
    return Feet(foot, triangle, distance, in_reach, found)


def _among_agreeing(
    points: Floats, normals: Floats, target: Surface, reach_mm: float
) -> Iterator[tuple[Ints, tuple[Floats, Ints, Floats]]]:
    """For rows whose agreeing foot is within reach: the rows and their (foot, triangle, distance)."""
    low, high = _boxes(target)
    pending = np.arange(len(points))
    for cells in _DIRECTION_CELLS:
        last, left = cells == _DIRECTION_CELLS[-1], []
        for rows in _groups(normals, pending, cells):
            near_by = _near_box(low, high, points[rows], reach_mm)
            triangles = near_by[_may_agree(target.normals[near_by], normals[rows], certainly=last)]
            if not len(triangles):
                continue
            near = Tree(target, triangles).nearest(points[rows])
            close = near.distance_mm <= reach_mm
            agrees = close & (dot(normals[rows], target.normals[near.triangle]) > 0)
            yield rows[agrees], (near.point[agrees], near.triangle[agrees], near.distance_mm[agrees])
            left.append(rows[close & ~agrees])
        pending = np.concatenate(left) if left else pending[:0]
        if not len(pending):
            return


def _groups(normals: Floats, rows: Ints, cells: int) -> Iterator[Ints]:
    """The rows, parted by the direction of their normals into cells of a cube grid."""
    side = 2 * cells + 1
    cell = (np.rint(normals[rows] * cells).astype(np.int64) + cells) @ np.array([side * side, side, 1])
    order = np.argsort(cell, kind="stable")
    starts = np.flatnonzero(np.diff(cell[order])) + 1
    yield from np.split(rows[order], starts)


def _may_agree(triangle_normals: Floats, normals: Floats, certainly: bool) -> Mask:
    """The triangles that agree with at least one of ``normals`` (or, certainly, with all of them)."""
    axis = unit(normals.sum(axis=0, keepdims=True))
    spread = np.sqrt(1.0 - np.clip(dot(normals, np.broadcast_to(axis, normals.shape)).min(), 0.0, 1.0) ** 2)
    agrees: Mask = triangle_normals @ axis[0] > (spread if certainly else -spread)
    return agrees


def _boxes(target: Surface) -> tuple[Floats, Floats]:
    """Lowest and highest corner of each triangle's box, (m, 3) mm."""
    a, b, c = target.corners
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _near_box(low: Floats, high: Floats, points: Floats, reach_mm: float) -> Ints:
    """The triangles whose boxes come within reach of the box around ``points``."""
    bottom, top = points.min(axis=0) - reach_mm, points.max(axis=0) + reach_mm
    near: Ints = np.flatnonzero(((high >= bottom) & (low <= top)).all(axis=1))
    return near
