"""Signed depth of panel points below the finished shape, and why some points have none."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface, dot
from .feet import TOUCHING_MM, find_feet
from .sides import sides

# A foot on the rim still counts where the point leans out no further than this, or than a tenth of its distance.
_LEAN_MM, _LEAN_SHARE = 0.2, 0.1
# A sheet that stands steeper than 60 degrees over the target's rim is a flange that the target has not.
_STEEP = 0.5


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
    found = find_feet(points, normals, target, tree, reach_mm, ask_again, touching_mm)
    seen = np.flatnonzero(found.found)
    steep = dot(normals[seen], target.normals[found.triangle[seen]]) < _STEEP
    side = sides(points[seen], found.points[seen], found.triangle[seen], target, steep)
    distance = found.distance_mm[seen]
    leans = side.sideways_mm > np.maximum(_LEAN_MM, _LEAN_SHARE * distance)
    past = side.rim & (leans | (steep & (distance > _LEAN_MM)))
    reason = np.where(found.in_reach, Reason.FACES_AWAY, Reason.TOO_FAR).astype(np.int8)
    reason[seen] = np.where(past, Reason.PAST_EDGE, Reason.JUDGED)
    depth, feet, foot_normals = _blank(len(points)), _blank(len(points), 3), _blank(len(points), 3)
    kept = seen[~past]
    foot_normals[kept] = side.normal[~past]
    feet[kept] = found.points[kept] - finish_mm * foot_normals[kept]
    depth[kept] = -side.above[~past] * distance[~past] - finish_mm
    triangle = np.full(len(points), -1)
    triangle[kept] = found.triangle[kept]
    return Depth(depth, reason, feet, foot_normals, triangle)


def _blank(*shape: int) -> Floats:
    return np.full(shape, np.nan)
