"""A plane as a grid of lines, to be looked at. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_ACROSS = 9
_ROOM = 1.1


def plane_grid(normal: Floats, offset: float, points: Floats) -> tuple[Floats, Ints, Floats]:
    """The plane ``normal`` . x = ``offset`` as lines a little wider than ``points`` (n, 3) lie along it.

    Gives the grid's points (k, 3) in its own plane z = 0, its edges (m, 2), and the matrix (4, 4) that takes them to
    the points' frame: z along ``normal``, x the way the points reach furthest.

    >>> grid, edges, matrix = plane_grid(np.array([0.0, 0, 2]), 6.0, np.array([[0.0, 0, 0], [10, 0, 0], [5, 2, 9]]))
    >>> matrix[:3, 3], np.ptp(grid, axis=0).round(6), len(edges)
    (array([5., 1., 3.]), array([11. ,  2.2,  0. ]), 144)
    """
    size = float(np.linalg.norm(normal))
    up, offset = np.asarray(normal) / size, offset / size
    flat = points - np.outer(points @ up - offset, up)
    middle = flat.mean(axis=0)
    along = np.linalg.svd(flat - middle, full_matrices=False)[2][0]
    along = along * np.sign(along[np.argmax(np.abs(along))])
    axes = np.stack([along, np.cross(up, along), up])
    local = (flat - middle) @ axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    half = 0.5 * _ROOM * (high - low)[:2]
    u, v = np.meshgrid(*(np.linspace(-h, h, _ACROSS) for h in half), indexing="ij")
    row = np.arange(_ACROSS**2).reshape(_ACROSS, _ACROSS)
    edges = np.concatenate([np.stack([row[:-1].ravel(), row[1:].ravel()], axis=1),
                            np.stack([row[:, :-1].ravel(), row[:, 1:].ravel()], axis=1)])
    matrix = np.eye(4)
    matrix[:3, :3] = axes.T
    matrix[:3, 3] = middle + 0.5 * (low + high) @ axes
    return np.column_stack([u.ravel(), v.ravel(), np.zeros(u.size)]), edges, matrix


def plane_through_three(points: Floats) -> tuple[Floats, float] | None:
    """Unit normal (3,) and offset of the plane through ``points`` (3, 3); None where they lie on one line.

    >>> plane_through_three(np.array([[0.0, 0, 2], [1, 0, 2], [0, 1, 2]]))
    (array([0., 0., 1.]), 2.0)
    >>> plane_through_three(np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0]])) is None
    True
    """
    sides = points[1:] - points[0]
    normal = np.cross(sides[0], sides[1])
    size = float(np.linalg.norm(normal))
    if size <= 0.02 * float(np.max(np.einsum("ij,ij->i", sides, sides))):
        return None
    unit = normal / size
    return unit, float(unit @ points[0])
