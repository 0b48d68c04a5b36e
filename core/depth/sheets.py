"""The panel and its feet as two sheets of the same triangles, divided where the target has a crease.

Between a panel triangle and the triangle of its three feet lies the metal to be added. Where the feet
lie on faces turned against each other, the flat triangle of feet cuts the crease's corner off: there
the panel's edges are halved and the new points get feet of their own. An edge is halved for both of
its triangles, so that the sheets stay whole.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Ints, Mask, Surface, dot, unit
from .depth import Depth

Judge = Callable[[Floats, Floats], Depth]

_LEVELS = 3
_TURN = np.cos(np.radians(10.0))
# A corner that reaches out no further than this beyond its chord is not worth a division.
_CORNER_MM = 0.02


@dataclass(frozen=True)
class Sheets:
    """Two sheets over the judged part of the panel.

    ``panel`` and ``feet`` (n, 3) mm, ``depth_mm`` (n,), ``triangles`` (t, 3) for both;
    ``parent`` (t,): the panel triangle that each came from. The first points are the panel's own.
    """

    panel: Floats
    feet: Floats
    depth_mm: Floats
    triangles: Ints
    parent: Ints


@dataclass(frozen=True)
class _Points:
    panel: Floats
    normals: Floats
    depth: Depth

    def with_more(self, panel: Floats, normals: Floats, depth: Depth) -> _Points:
        return _Points(
            np.concatenate([self.panel, panel]),
            np.concatenate([self.normals, normals]),
            Depth(
                np.concatenate([self.depth.depth_mm, depth.depth_mm]),
                np.concatenate([self.depth.reason, depth.reason]),
                np.concatenate([self.depth.feet, depth.feet]),
                np.concatenate([self.depth.foot_normals, depth.foot_normals]),
                np.concatenate([self.depth.triangle, depth.triangle]),
            ),
        )


def between(panel: Surface, depth: Depth, judge: Judge) -> Sheets:
    """The two sheets over the triangles of ``panel`` whose corners all have a depth.

    ``judge(points, normals)`` gives the depth of new points, as it gave ``depth`` for the panel's own.
    """
    parent = np.flatnonzero(depth.judged[panel.triangles].all(axis=1))
    points, triangles = _Points(panel.vertices, panel.vertex_normals, depth), panel.triangles[parent]
    for _ in range(_LEVELS):
        start, end, edge = _creased_edges(points, triangles)
        if not len(start):
            break
        middle = 0.5 * (points.panel[start] + points.panel[end])
        normals = unit(points.normals[start] + points.normals[end])
        new = judge(middle, normals)
        row = np.where(new.judged, len(points.panel) + np.cumsum(new.judged) - 1, -1)
        kept = new.judged
        halves = Depth(
            new.depth_mm[kept], new.reason[kept], new.feet[kept], new.foot_normals[kept], new.triangle[kept]
        )
        points = points.with_more(middle[kept], normals[kept], halves)
        triangles, parent = _divided(triangles, parent, np.where(edge >= 0, row[edge], -1))
    return Sheets(points.panel, points.depth.feet, points.depth.depth_mm, triangles, parent)


def _creased_edges(points: _Points, triangles: Ints) -> tuple[Ints, Ints, Ints]:
    """Start and end (e,) of each edge to halve, and for each triangle's three sides its row there or -1, (t, 3)."""
    edge = np.full(triangles.shape, -1)
    following = np.roll(triangles, -1, axis=1)
    normal, depth = points.depth.foot_normals, np.abs(points.depth.depth_mm)
    marked = np.empty(triangles.shape, dtype=bool)
    for k in range(3):
        i, j = triangles[:, k], following[:, k]
        cosine = np.clip(dot(normal[i], normal[j]), -1.0, 1.0)
        reach = np.maximum(depth[i], depth[j]) * np.sqrt((1 - cosine) / (1 + cosine + 1e-9))  # h tan(turn / 2)
        marked[:, k] = (cosine < _TURN) & (reach > _CORNER_MM)
    low, high = np.minimum(triangles, following)[marked], np.maximum(triangles, following)[marked]
    key, first, inverse = np.unique(low * len(points.panel) + high, return_index=True, return_inverse=True)
    edge[marked] = inverse.ravel()
    return low[first], high[first], edge


def _divided(triangles: Ints, parent: Ints, middle: Ints) -> tuple[Ints, Ints]:
    """Triangles (t, 3) divided at the midpoints ``middle`` (t, 3; -1 for none) of their sides."""
    count = (middle >= 0).sum(axis=1)
    whole = count == 0
    pieces, parents = [triangles[whole]], [parent[whole]]

    def add(mask: Mask, *corners: tuple[Ints, Ints, Ints]) -> None:
        pieces.extend(np.stack(c, axis=1) for c in corners)
        parents.extend(parent[mask] for _ in corners)

    for sides in (1, 2, 3):
        mask = count == sides
        if not mask.any():
            continue
        # Turn each triangle so that the one halved side, or the one side left whole, comes first.
        odd = (middle[mask] >= 0) if sides == 1 else (middle[mask] < 0)
        turn = (odd.argmax(axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = np.take_along_axis(triangles[mask], turn, axis=1).T
        ab, bc, ca = np.take_along_axis(middle[mask], turn, axis=1).T
        if sides == 1:
            add(mask, (a, ab, c), (ab, b, c))
        elif sides == 2:
            add(mask, (a, b, bc), (a, bc, ca), (ca, bc, c))
        else:
            add(mask, (a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    return np.concatenate(pieces), np.concatenate(parents)
