"""From the Good Side: the good side of a body mirrored about its plane, to lie over the bad one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from ..place.symmetry import Symmetry
from ..surface.surface import Floats, Mask, Surface

_CLEAR_SHARE = 0.5  # of all that differs that should say the same, before nothing is said
_LACKS_SHARE, _LACKS_MM2 = 0.01, 1000.0  # of a half, and at least: less is how a scan happens to be cut
_AXES = "xyz"


@dataclass(frozen=True, eq=False)
class GoodSide:
    """A mirrored good side: ``surface``; ``side``: which it was, in words; ``warnings``: plain sentences."""

    surface: Surface
    side: str
    warnings: tuple[str, ...]


def good_side(body: Surface, symmetry: Symmetry, good: Floats | None = None, aside: Mask | None = None) -> GoodSide:
    """The good side of ``body`` mirrored. The bad side is left out, else its damage would be asked of the good one.

    ``good`` (3,) mm: a point on the good side; None: the side that lacks no metal which the other has; and where both
    are whole the one that is pushed in less where they differ, for damage is mostly pushed in. ``aside`` (n,): vertices
    that tell nothing of that. Raises InputError where the point lies on the plane, or nothing of the body on its side.
    """
    plane = symmetry.plane
    over = body.vertices @ plane.normal - plane.offset_mm
    warnings: tuple[str, ...] = ()
    if good is None:
        side, warnings = _less_pushed_in(body, symmetry, np.sign(over), aside)
    else:
        side = float(np.sign(_beyond(good, plane.normal, plane.offset_mm, body.diagonal)))
    surface = plane.surface(body).part((side * over[body.triangles] > 0).any(axis=1))
    if len(surface.triangles) == 0:
        raise InputError("good side: nothing of the body lies on that side of the plane; give another point")
    return GoodSide(surface, _in_words(side * plane.normal), warnings)


def _beyond(good: Floats, normal: Floats, offset_mm: float, diagonal_mm: float) -> float:
    beyond = float(good @ normal - offset_mm)
    if not np.isfinite(good).all() or abs(beyond) < 1e-3 * diagonal_mm:
        raise InputError("good side: the point on it must be three numbers, and lie well away from the symmetry plane")
    return beyond


def _less_pushed_in(
    body: Surface, symmetry: Symmetry, side: Floats, aside: Mask | None
) -> tuple[float, tuple[str, ...]]:
    """1 for the side that the normal points to, -1 for the other; and a doubt where little tells them apart.

    Only where the two sides differ by more than bodies do: all over, they differ by more than a dent holds.
    """
    taken_part = np.ones(len(side), dtype=bool) if aside is None else ~aside
    whole = _more_whole(body, symmetry, side, taken_part)
    asked = np.isfinite(symmetry.apart_mm) & ~symmetry.fit.sound & taken_part
    # A vertex that is pushed in has a mirror image that lies low on the other side.
    depth = side * np.where(asked, symmetry.apart_mm, 0.0) * body.vertex_areas
    net, total = float(depth.sum()), float(np.abs(depth).sum())
    taken = -1.0 if net > 0 else 1.0
    if whole and whole != taken:
        return whole, ("the side that is pushed in less lacks metal which the other side has, so the other one is "
                       "taken for good: look whether that is right, or give a point on the good side",)
    if abs(net) >= _CLEAR_SHARE * total and total > 0:
        return taken, ()
    return taken, ("which side is the good one is not clear (both lie low in places): look whether the right one was "
                   "taken, or give a point on the good side",)


def _more_whole(body: Surface, symmetry: Symmetry, side: Floats, taken_part: Mask) -> float:
    """The side, 1 or -1, whose mirror image covers more of the other; 0.0 where both lack little."""
    bare = np.isnan(symmetry.apart_mm) & taken_part  # no metal lies where its mirror image does
    lacks = {way: float(body.vertex_areas[bare & (side == -way)].sum()) for way in (1.0, -1.0)}
    apart = lacks[1.0] - lacks[-1.0]
    if abs(apart) < max(_LACKS_MM2, _LACKS_SHARE * 0.5 * body.area):
        return 0.0
    return -1.0 if apart > 0 else 1.0


def _in_words(way: Floats) -> str:
    """A direction by the axis that it follows most: "towards -x"."""
    axis = int(np.argmax(np.abs(way)))
    return f"towards {'-' if way[axis] < 0 else '+'}{_AXES[axis]}"
