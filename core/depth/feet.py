"""The foot of a panel point: the nearest point among the target's triangles that face the same way.

Nearest-then-reject would lose the deepest metal wherever the target has a return flange or an inner
skin: there the nearest triangle of all is the wrong side of it. So the points whose nearest triangle
faces away are asked again, against the triangles that agree with them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface, dot, normalised

# Finer and finer parts of the target by direction; only parts that hold an answer in doubt are parted again.
_DIRECTION_CELLS = (1, 3, 9, 27, 81)
_MOST_CELLS = 1e7  # of a grid as wide as the reach
# Sheets within 10 degrees of square to one another agree by a hair, if at all: a flange under a shape that goes on past
# it. They belong together only where they touch.
_SQUARE, TOUCHING_MM = 0.17, 0.2


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


def find_feet(
    points: Floats, normals: Floats, target: Surface, tree: Tree, reach_mm: float, ask_again: bool = True,
    touching_mm: float = TOUCHING_MM,
) -> Feet:
    """The foot of each of ``points`` (n, 3) mm with unit ``normals`` (n, 3) on ``target``.

    ``tree`` is the target's own. A triangle within 10 degrees of square to the point's normal is no foot unless it
    touches: lies within ``touching_mm``, which a fit sets wider while the panel is not yet in place.
    Without ``ask_again`` points whose nearest triangle faces away have no foot: much faster on folded shapes, for fits
    that ask a thousand times and can spare them.
    """
    near = tree.nearest(points)
    foot, triangle, distance = near.point, near.triangle, near.distance_mm
    in_reach = distance <= reach_mm
    found = in_reach & _agree(dot(normals, target.normals[triangle]), distance, touching_mm)
    again = np.flatnonzero(in_reach & ~found)
    if len(again) and ask_again:
        foot, triangle, distance = foot.copy(), triangle.copy(), distance.copy()
        rows, better = _among_agreeing(points[again], normals[again], target, reach_mm, touching_mm)
        place = again[rows]
        foot[place], triangle[place], distance[place] = better
        found[place] = True
    return Feet(foot, triangle, distance, in_reach, found)


def _agree(cosine: Floats, distance_mm: Floats, touching_mm: float) -> Mask:
    """Whether normals with this ``cosine`` between them face the same way; the farther, the surer it must be."""
    agree: Mask = cosine > np.where(distance_mm > touching_mm, _SQUARE, 0.0)
    return agree


@dataclass(frozen=True)
class _Bin:
    """Target triangles whose normals point much the same way, and the rows of the points to be asked of them."""

    triangles: Ints
    rows: Ints


def _among_agreeing(
    points: Floats, normals: Floats, target: Surface, reach_mm: float, touching_mm: float
) -> tuple[Ints, tuple[Floats, Ints, Floats]]:
    """Rows whose agreeing foot is within reach, and their (foot, triangle, distance).

    The triangles are parted by direction, each part with a tree of its own. Where the nearest of a part
    agrees, it is the answer of that part; where it does not, and is nearer than what the point has so far,
    the part is parted again for that point.
    """
    foot, triangle = np.empty_like(points), np.full(len(points), -1)
    best = np.full(len(points), np.nextafter(reach_mm, np.inf))
    todo = [_Bin(_near(target, points, reach_mm), np.arange(len(points)))]
    for cells in _DIRECTION_CELLS:
        left = []
        for part in _parted(todo, target, cells):
            rows = part.rows[_may_agree(target.normals[part.triangles], normals[part.rows])]
            if not len(rows):
                continue
            near = Tree(target, part.triangles).nearest(points[rows])
            closer = near.distance_mm < best[rows]
            cosine = dot(normals[rows], target.normals[near.triangle])
            agrees = closer & _agree(cosine, near.distance_mm, touching_mm)
            place = rows[agrees]
            foot[place], triangle[place], best[place] = (
                near.point[agrees], near.triangle[agrees], near.distance_mm[agrees]
            )
            left.append(_Bin(part.triangles, rows[closer & ~agrees]))
        todo = [part for part in left if len(part.rows)]
    rows = np.flatnonzero(triangle >= 0)
    return rows, (foot[rows], triangle[rows], best[rows])


def _parted(parts: list[_Bin], target: Surface, cells: int) -> Iterator[_Bin]:
    """Each part divided by the direction of its triangles' normals, into cells of a cube grid."""
    side = 2 * cells + 1
    for part in parts:
        normals = target.normals[part.triangles]
        cell = (np.rint(normals * cells).astype(np.int64) + cells) @ np.array([side * side, side, 1])
        order = np.argsort(cell, kind="stable")
        starts = np.flatnonzero(np.diff(cell[order])) + 1
        yield from (_Bin(triangles, part.rows) for triangles in np.split(part.triangles[order], starts))


def _may_agree(triangle_normals: Floats, normals: Floats) -> Mask:
    """Which of ``normals`` (k, 3) agree with at least one of the triangles, or might."""
    axis = normalised(triangle_normals.sum(axis=0, keepdims=True))[0]
    spread = np.sqrt(1.0 - np.clip((triangle_normals @ axis).min(initial=1.0), 0.0, 1.0) ** 2)
    may: Mask = normals @ axis > -spread
    return may


def _near(target: Surface, points: Floats, reach_mm: float) -> Ints:
    """The triangles that come within reach of any of ``points``, and few others: those whose boxes lie in a cell, as
    wide as the reach, that holds a point or is next to one that does. The points may be few and far apart."""
    a, b, c = target.corners
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    bottom, top = points.min(axis=0) - reach_mm, points.max(axis=0) + reach_mm
    near: Ints = np.flatnonzero(((high >= bottom) & (low <= top)).all(axis=1))
    first, last = (np.floor((corner[near] - bottom) / reach_mm).astype(np.int64) for corner in (low, high))
    count = np.floor((top - bottom) / reach_mm).astype(np.int64) + 3  # one more all round: boxes reach past the points'
    if float(np.prod(count.astype(np.float64))) > _MOST_CELLS:
        return near
    taken = np.zeros(tuple(count), dtype=bool)
    own = np.floor((points - bottom) / reach_mm).astype(np.int64)
    for step in product((-1, 0, 1), repeat=3):
        taken[tuple((own + 1 + step).T)] = True
    holds = (last - first > 1).any(axis=1)  # a large one: it may lie in others than those of its box's corners
    for corner in product((False, True), repeat=3):
        cell = np.clip(np.where(corner, last, first) + 1, 0, count - 1)
        holds |= taken[tuple(cell.T)]
    kept: Ints = near[holds]
    return kept
