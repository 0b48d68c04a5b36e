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

from ..surface.surface import Floats, Ints, Mask, Surface, blocks, dot, normalised
from ..threads import each
from .depth import Depth, Reason

Judge = Callable[[Floats, Floats], Depth]

_LEVELS = 3
# A rough scan as target is creased everywhere: dividing stops where it has made so many times the panel's triangles.
_MOST_GROWTH, _FEW = 2, 10_000
_TURN = np.cos(np.radians(10.0))
# A corner that reaches out no further than this beyond its chord is not worth a division.
_CORNER_MM = 0.02
# A foot is taken for the crease's where it lies between the two feet (from both no further than this share of the
# gap), or where the two faces' planes meet on the target (no further off than this share of the gap).
_HALVED, _ON_CREASE = 0.9, 0.25


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
    first, second, third = (depth.judged[panel.triangles[:, k]] for k in range(3))
    parent = np.flatnonzero(first & second & third)
    points = _Points(panel.vertices, panel.vertex_normals, depth)
    triangles = panel.triangles if len(parent) == len(panel.triangles) else panel.triangles[parent]
    for _ in range(_LEVELS):
        start, end, edge = _creased_edges(points, triangles)
        if not len(start) or len(triangles) > _MOST_GROWTH * len(panel.triangles) + _FEW:
            break
        middle = 0.5 * (points.panel[start] + points.panel[end])
        normals = normalised(points.normals[start] + points.normals[end])
        new = _cornered(points, start, end, middle, normals, judge)
        row = np.where(new.judged, len(points.panel) + np.cumsum(new.judged) - 1, -1)
        kept = new.judged
        halves = Depth(
            new.depth_mm[kept], new.reason[kept], new.feet[kept], new.foot_normals[kept], new.triangle[kept]
        )
        points = points.with_more(middle[kept], normals[kept], halves)
        triangles, parent = _divided(triangles, parent, np.where(edge >= 0, row[edge], -1))
    return Sheets(points.panel, points.depth.feet, points.depth.depth_mm, triangles, parent)


def _cornered(
    points: _Points, start: Ints, end: Ints, middle: Floats, normals: Floats, judge: Judge
) -> Depth:
    """Depth of the new points, with their feet put on the crease where there is one between the edge's feet.

    The nearest point alone won't do: inside a crease (below a ridge, above a valley) the feet jump from one
    face to the other, and no point of the panel has its foot in the corner between.
    """
    new = judge(middle, normals)
    crease = _meeting(points.depth, start, end)
    at_crease = judge(crease, normals)
    one, other = points.depth.feet[start], points.depth.feet[end]
    gap = _apart(one, other)
    off = np.abs(at_crease.depth_mm)
    halved = np.maximum(_apart(at_crease.feet, one), _apart(at_crease.feet, other)) < _HALVED * gap
    near = at_crease.judged & (halved | (off < _ON_CREASE * gap))
    foot, normal = new.feet.copy(), new.foot_normals.copy()
    foot[near], normal[near] = at_crease.feet[near], at_crease.foot_normals[near]
    normal[near & (off < _CORNER_MM)] = np.nan  # on the crease itself: it belongs to both faces, nothing to divide
    reach = foot - middle
    sign = np.where(dot(reach, points.depth.foot_normals[start] + points.depth.foot_normals[end]) >= 0, 1.0, -1.0)
    depth = np.where(near, sign * np.sqrt(dot(reach, reach)), new.depth_mm)
    triangle = np.where(near, at_crease.triangle, new.triangle)
    return Depth(depth, np.where(near, np.int8(Reason.JUDGED), new.reason), foot, normal, triangle)


def _apart(a: Floats, b: Floats) -> Floats:
    """Distances between the rows of ``a`` and ``b``, (e,) mm."""
    apart: Floats = np.sqrt(dot(a - b, a - b))
    return apart


def _meeting(depth: Depth, start: Ints, end: Ints) -> Floats:
    """Where the faces at both feet of each edge meet, next to the middle between the feet, (e, 3) mm."""
    n, m = depth.foot_normals[start], depth.foot_normals[end]
    half = 0.5 * (depth.feet[start] - depth.feet[end])
    cosine = dot(n, m)
    scale = 1.0 / np.maximum(1.0 - cosine * cosine, 1e-6)
    up, down = dot(n, half), -dot(m, half)
    along_n, along_m = (up - cosine * down) * scale, (down - cosine * up) * scale
    meeting: Floats = depth.feet[end] + half + along_n[:, None] * n + along_m[:, None] * m
    return meeting


def _creased_edges(points: _Points, triangles: Ints) -> tuple[Ints, Ints, Ints]:
    """Start and end (e,) of each edge to halve, and for each triangle's three sides its row there or -1, (t, 3);
    (0, 3) where there is none to halve."""
    normal, depth = points.depth.foot_normals, np.abs(points.depth.depth_mm)
    marked = np.zeros(triangles.shape, dtype=bool)

    def mark(rows: slice) -> None:
        at = normal[triangles[rows]]
        for k in range(3):
            cosine = dot(at[:, k], at[:, (k + 1) % 3])
            turned = np.flatnonzero(cosine < _TURN)  # few: only there is the rest worth working out
            cosine = np.clip(cosine[turned], -1.0, 1.0)
            turned += rows.start
            deeper = np.maximum(depth[triangles[turned, k]], depth[triangles[turned, (k + 1) % 3]])
            reach = deeper * np.sqrt((1 - cosine) / (1 + cosine + 1e-9))  # h tan(turn / 2)
            marked[turned, k] = reach > _CORNER_MM

    each(mark, blocks(len(triangles)))
    row, side = np.nonzero(marked)
    here, following = triangles[row, side], triangles[row, (side + 1) % 3]
    low, high = np.minimum(here, following), np.maximum(here, following)
    key, first, inverse = np.unique(low * len(points.panel) + high, return_index=True, return_inverse=True)
    edge = np.full(triangles.shape if len(key) else (0, 3), -1)
    edge[row, side] = inverse.ravel()
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
