"""Which side of the target a point lies on, and whether its foot is on the target's rim.

Most feet lie inside a triangle, and its own normal tells the side. Only where a foot lies on an edge
or a vertex is the angle-weighted pseudonormal needed (Baerentzen & Aanaes 2005,
doi:10.1109/TVCG.2005.49), so only there is it worked out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Ints, Mask, Surface, dot, normalised
from ..surface.weights import barycentric

# A face turned back by more than 135 degrees (a hem) does not belong to this side of the sheet.
_TURNED_BACK = -0.7071
# A foot whose offset leans off the normal by more than this is not inside its triangle.
_SLANT, _NEAR_ZERO_MM = 1e-6, 1e-9


@dataclass(frozen=True)
class Sides:
    """``above`` (n,): +1 outside the target, -1 below; ``normal`` (n, 3) unit, at the foot;
    ``rim`` (n,): the foot lies on the target's rim; ``sideways_mm`` (n,): offset along the sheet.
    """

    above: Floats
    normal: Floats
    rim: Mask
    sideways_mm: Floats


def sides(points: Floats, feet: Floats, triangle: Ints, target: Surface, steep: Mask) -> Sides:
    """On which side of ``target`` the ``points`` (n, 3) mm lie, seen from their ``feet`` (n, 3) mm.

    Where ``steep`` (n,), the rim is looked for even if the point lies square to its foot.
    """
    normal = target.normals[triangle]
    offset = points - feet
    height = dot(offset, normal)
    sideways = np.sqrt(np.maximum(dot(offset, offset) - height * height, 0.0))
    above = np.where(height >= 0, 1.0, -1.0)
    rim = np.zeros(len(points), dtype=bool)
    slanted = np.flatnonzero((sideways > _NEAR_ZERO_MM + _SLANT * np.abs(height)) | steep)
    if len(slanted):
        pseudo, rim[slanted] = _at_edges(feet[slanted], triangle[slanted], target)
        above[slanted] = np.where(dot(offset[slanted], pseudo) >= 0, 1.0, -1.0)
        normal[slanted] = pseudo
    return Sides(above, normal, rim, sideways)


def _at_edges(feet: Floats, triangle: Ints, target: Surface) -> tuple[Floats, Mask]:
    """Pseudonormal at feet on edges and vertices, and whether the rim is there."""
    corner = target.triangles[triangle]
    weight = barycentric(feet, triangle, target)
    zero = weight < 1e-9
    at_vertex = zero.sum(axis=1) >= 2
    rows = np.arange(len(feet))
    first = np.where(at_vertex, weight.argmax(axis=1), (zero.argmax(axis=1) + 1) % 3)
    second = np.where(at_vertex, first, (zero.argmax(axis=1) + 2) % 3)
    inside = ~zero.any(axis=1)
    normal, is_rim = _pseudonormals(corner[rows, first], corner[rows, second], triangle, target)
    normal[inside] = target.normals[triangle[inside]]
    return normal, is_rim & ~inside


def _pseudonormals(start: Ints, end: Ints, triangle: Ints, target: Surface) -> tuple[Floats, Mask]:
    """Pseudonormal at the vertex ``start`` (where ``end`` is the same) or at the edge from start to end."""
    item, around = _triangles_around(start, target)
    at_vertex = start == end
    holds_end = (target.triangles[around] == end[item, None]).any(axis=1)
    turn = dot(target.normals[around], target.normals[triangle[item]])
    this_side = holds_end & (turn > _TURNED_BACK)
    weight = np.where(at_vertex[item], _angle_at(start[item], around, target), 1.0) * this_side
    normals = target.normals[around]
    total = np.stack([np.bincount(item, weight * normals[:, k], minlength=len(start)) for k in range(3)], axis=1)
    count = np.bincount(item, holds_end, minlength=len(start))
    hem = np.bincount(item, holds_end & ~this_side, minlength=len(start)) > 0
    edge_rim = np.where(at_vertex, target.on_rim[start], count < 2)
    return normalised(total.astype(np.float64)), edge_rim | hem


def _triangles_around(vertex: Ints, target: Surface) -> tuple[Ints, Ints]:
    """All triangles around each vertex: the item of ``vertex`` that each belongs to, and its row."""
    wanted = np.zeros(len(target.vertices), dtype=bool)
    wanted[vertex] = True
    place = np.flatnonzero(wanted[target.triangles.ravel()])
    corner = target.triangles.ravel()[place]
    order = np.argsort(corner, kind="stable")
    corner, triangle = corner[order], place[order] // 3
    first, last = np.searchsorted(corner, vertex), np.searchsorted(corner, vertex, side="right")
    counts = last - first
    item = np.repeat(np.arange(len(vertex)), counts)
    step = np.arange(len(item)) - np.repeat(np.cumsum(counts) - counts, counts)
    return item, triangle[first[item] + step]


def _angle_at(vertex: Ints, triangle: Ints, target: Surface) -> Floats:
    """Angle of each triangle at its corner ``vertex``, radians."""
    corner = target.triangles[triangle]
    here = (corner == vertex[:, None]).argmax(axis=1)
    rows = np.arange(len(here))
    p, q, r = (target.vertices[corner[rows, (here + k) % 3]] for k in range(3))
    cosine = dot(normalised(q - p), normalised(r - p))
    angle: Floats = np.arccos(np.clip(cosine, -1.0, 1.0))
    return angle
