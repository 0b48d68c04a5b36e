"""Contour lines of depth on the panel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.chains import chains, followers
from ..surface.surface import Floats, Ints, Mask, Surface


@dataclass(frozen=True)
class Contour:
    """One line of equal depth: ``level_mm``, its ``points`` (k, 3) mm in order, and whether it closes on itself."""

    level_mm: float
    points: Floats
    closed: bool


def contours(panel: Surface, depth_mm: Floats, judged: Mask, levels_mm: Floats) -> tuple[Contour, ...]:
    """The lines on ``panel`` where ``depth_mm`` (n,) passes each of ``levels_mm`` (k,), over judged triangles only.

    Source of the segments: libigl's isolines.
    """
    import igl

    levels = np.asarray(levels_mm, dtype=np.float64)
    kept = panel.triangles[judged[panel.triangles].all(axis=1) & _passed(panel.triangles, depth_mm, levels)]
    if not len(kept) or not len(levels):
        return ()
    points, ends, which = igl.isolines(panel.vertices, kept, np.where(judged, depth_mm, 0.0), levels)
    return tuple(line for k, level in enumerate(levels) for line in _lines(points, ends[which == k], float(level)))


def _passed(triangles: Ints, depth_mm: Floats, levels_mm: Floats) -> Mask:
    """Which triangles (m,) have a level on them; most have none, and libigl takes its time over each."""
    order = np.sort(levels_mm)
    above, upto = (np.searchsorted(order, depth_mm, side=side) for side in ("left", "right"))
    lowest = np.minimum.reduce([above[triangles[:, k]] for k in range(3)])
    highest = np.maximum.reduce([upto[triangles[:, k]] for k in range(3)])
    passed: Mask = lowest < highest
    return passed


def _lines(points: Floats, ends: Ints, level_mm: float) -> list[Contour]:
    """The segments (s, 2), each running on where another ends, as lines."""
    if not len(ends):
        return []
    start, end = ends[:, 0].astype(np.int64), ends[:, 1].astype(np.int64)
    found = chains(followers(start, end))
    lines = []
    for row, closed in zip(np.split(found.order, found.first[1:]), found.closed.tolist(), strict=True):
        at = start[row] if closed else np.append(start[row], end[row[-1]])
        lines.append(Contour(level_mm, points[at], closed))
    return lines
