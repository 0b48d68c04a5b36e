"""A surface set in or out by an even thickness, without crossing itself in tight corners."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..surface.nearest import Tree
from ..surface.surface import Floats, Surface, dot, normalised

_ROUNDS = 12
_SHORT_SHARE, _NEAR_ZERO_MM = 1e-3, 1e-4
_ALIKE, _LONGEST = 1e-3, 2.0
_ROOM_SHARE = 0.95  # nearer than this share of the thickness is not there


def set_off(shape: Surface, tree: Tree, outward_mm: float) -> Surface:
    """``shape`` moved by ``outward_mm`` along its normals (negative: inward), the same triangles.

    In a corner tighter than the thickness the two sides would cross: there the points are pushed back to where
    they are that far from every part of the shape, so they gather along the corner's own line.
    ``tree`` is the shape's own. Nothing to move gives the shape itself.
    """
    if outward_mm == 0:
        return shape
    points = shape.vertices + outward_mm * _spread_normals(shape)
    side = np.sign(outward_mm)
    for _ in range(_ROUNDS):
        near = tree.nearest(points)
        short = np.flatnonzero(near.distance_mm < abs(outward_mm) * (1 - _SHORT_SHARE) - _NEAR_ZERO_MM)
        if not len(short):
            break
        away = points[short] - near.point[short]
        normal = shape.normals[near.triangle[short]]
        # A point that has come out at the wrong side, or lies on the shape, is pushed along the normal.
        wrong = side * dot(away, normal) <= 0
        away = np.where(wrong[:, None], side * normal, normalised(away))
        points[short] = near.point[short] + abs(outward_mm) * away
    return replace(shape, vertices=points)


def cramped_mm2(shape: Surface, tree: Tree, moved: Surface, outward_mm: float) -> float:
    """Area of ``shape`` that could not be moved by ``outward_mm`` to where ``moved`` has it: it has no room there.

    In a hem or a fold that is closer than twice the thickness the two sides meet. ``tree`` is the shape's own.
    """
    near = tree.nearest(moved.vertices)
    there = np.sign(outward_mm) * dot(moved.vertices - near.point, shape.normals[near.triangle]) > 0
    short = (near.distance_mm < _ROOM_SHARE * abs(outward_mm)) | ~there
    return float(shape.vertex_areas[short].sum()) if outward_mm else 0.0


def _spread_normals(shape: Surface) -> Floats:
    """At each vertex the way that moves every face around it by 1 mm, (n, 3), at most 2 mm long.

    Least squares over the faces by area, so that a crease goes along its mitre however its triangles lie; where the
    faces are too alike to say more than their normal, that normal.
    """
    n = shape.normals
    sums = np.asarray(shape.corner_matrix @ shape.area_vectors)
    products = (shape.area_vectors[:, :, None] * n[:, None, :]).reshape(-1, 9)
    square = np.asarray(shape.corner_matrix @ products).reshape(-1, 3, 3)
    held = _ALIKE * 3 * shape.vertex_areas
    held = np.where(held > 0, held, 1.0)
    square[:, [0, 1, 2], [0, 1, 2]] += held[:, None]
    aim = sums + held[:, None] * shape.vertex_normals
    spread: Floats = np.linalg.solve(square, aim[..., None])[..., 0]
    spread /= np.maximum(np.sqrt(dot(spread, spread)) / _LONGEST, 1.0)[:, None]
    return spread
