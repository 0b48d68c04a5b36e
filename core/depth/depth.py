"""Signed depth of panel points below the finished shape, and why some points have none."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface, blocks, dot
from .feet import TOUCHING_MM, Feet, find_feet
from .sides import sides

# A foot on the rim still counts where the point leans out no further than this, or than a tenth of its distance.
_LEAN_MM, _LEAN_SHARE = 0.2, 0.1
# A sheet that stands steeper than 60 degrees over the target's rim is a flange that the target has not.
_STEEP = 0.5
_AT_A_TIME = 1 << 20  # points: what is worked out between takes half a kilobyte each


class Reason(IntEnum):
    """Why a point has no trustworthy depth."""

    JUDGED = 0
    PAST_EDGE = 1
    TOO_FAR = 2
    FACES_AWAY = 3


@dataclass(frozen=True)
class Depth:
    """Depth of each of n points.

    ``depth_mm`` (n,): positive below the target (to be filled), negative proud of it, nan where not judged;
    ``reason`` (n,) of `Reason`; ``feet`` (n, 3) mm and ``foot_normals`` (n, 3), nan where not judged, -1 for the
    ``triangle`` (n,) of the target there.
    """

    depth_mm: Floats
    reason: NDArray[np.int8]
    feet: Floats
    foot_normals: Floats
    triangle: Ints

    @property
    def judged(self) -> Mask:
        """Where there is a depth, (n,)."""
        judged: Mask = self.reason == Reason.JUDGED
        return judged


def measure_depth(
    points: Floats, normals: Floats, target: Surface, tree: Tree, reach_mm: float = 20.0, finish_mm: float = 0.0,
    ask_again: bool = True, touching_mm: float = TOUCHING_MM,
) -> Depth:
    """Depth of ``points`` (n, 3) mm, whose sheet faces along ``normals`` (n, 3), below ``target``, mm.

    ``tree`` is the target's own. ``finish_mm`` sets the target in by the thickness of primer and paint
    (negative: out). A point is not judged where no triangle that faces its way lies within
    ``reach_mm``, or where its foot is on the target's rim and it leans out past it, or
    stands steeper than 60 degrees there. ``ask_again``, ``touching_mm``: see `find_feet`.

    >>> flat = Surface(np.array([[0.0, 0, 0], [9, 0, 0], [0, 9, 0]]), np.array([[0, 1, 2]]))
    >>> up = np.array([[0.0, 0, 1]])
    >>> measure_depth(np.array([[2.0, 2, -1.5]]), up, flat, Tree(flat)).depth_mm
    array([1.5])
    >>> measure_depth(np.array([[20.0, 2, 0]]), up, flat, Tree(flat)).reason
    array([1], dtype=int8)
    """
    count = len(points)
    depth = Depth(
        _blank(count), np.empty(count, dtype=np.int8), _blank(count, 3), _blank(count, 3), np.full(count, -1)
    )
    for rows in blocks(count, _AT_A_TIME):
        found = find_feet(points[rows], normals[rows], target, tree, reach_mm, ask_again, touching_mm)
        _judge(depth, rows, points[rows], normals[rows], found, target, finish_mm)
    return depth


def _judge(
    depth: Depth, rows: slice, points: Floats, normals: Floats, found: Feet, target: Surface, finish_mm: float
) -> None:
    """Fill in ``rows`` of ``depth``, blank before: of ``points`` with their ``normals``, whose feet are ``found``."""
    seen = np.flatnonzero(found.found)
    steep = dot(normals[seen], target.normals[found.triangle[seen]]) < _STEEP
    side = sides(points[seen], found.points[seen], found.triangle[seen], target, steep)
    distance = found.distance_mm[seen]
    leans = side.sideways_mm > np.maximum(_LEAN_MM, _LEAN_SHARE * distance)
    past = side.rim & (leans | (steep & (distance > _LEAN_MM)))
    reason = depth.reason[rows]
    reason[:] = np.where(found.in_reach, Reason.FACES_AWAY, Reason.TOO_FAR)
    reason[seen] = np.where(past, Reason.PAST_EDGE, Reason.JUDGED)
    kept, normal = seen[~past], side.normal[~past]
    depth.foot_normals[rows][kept] = normal
    depth.feet[rows][kept] = found.points[kept] - finish_mm * normal
    depth.depth_mm[rows][kept] = -side.above[~past] * distance[~past] - finish_mm
    depth.triangle[rows][kept] = found.triangle[kept]


def _blank(*shape: int) -> Floats:
    return np.full(shape, np.nan)
