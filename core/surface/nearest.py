"""Nearest points on a surface, or on lines. The only file that calls a search tree."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .surface import Floats, Ints, Surface


@dataclass(frozen=True, eq=False)
class Nearest:
    """Nearest points of k query points: how far (k,) mm, on which triangle or piece of line (k,), where (k, 3) mm."""

    distance_mm: Floats
    triangle: Ints
    point: Floats


class Tree:
    """A search tree over a surface, or over some of its triangles; built once, when first asked.

    ``triangles`` are row numbers of the triangles to search; the answers count in the whole surface.
    Query points are in the surface's own frame (relative to its origin).
    Source: libigl's AABB, a tree of axis-aligned boxes (Jacobson et al., libigl).

    >>> sheet = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 0]]), np.array([[0, 1, 2], [1, 3, 2]]))
    >>> Tree(sheet).nearest([[1.5, 1.5, 3.0]]).distance_mm
    array([3.])
    >>> Tree(sheet, triangles=np.array([1])).nearest([[1.5, 1.5, 3.0]]).triangle
    array([1])
    >>> Tree(sheet).nearest(np.empty((0, 3))).point.shape
    (0, 3)
    """

    def __init__(self, surface: Surface, triangles: Ints | None = None) -> None:
        self.surface = surface
        self._rows = None if triangles is None else np.asarray(triangles, dtype=np.int64)

    @cached_property
    def _built(self) -> tuple[Any, Floats, Ints]:
        import igl

        corners, vertices = self.surface.triangles, self.surface.vertices
        if self._rows is not None:  # only the points in use: libigl copies them all at every call
            used, corners = np.unique(corners[self._rows], return_inverse=True)
            vertices, corners = vertices[used], corners.reshape(-1, 3)
        vertices = np.ascontiguousarray(vertices, dtype=np.float64)
        corners = np.ascontiguousarray(corners, dtype=np.int64)
        tree = igl.AABB()
        tree.init(vertices, corners)
        return tree, vertices, corners

    def nearest(self, points: ArrayLike) -> Nearest:
        """Nearest point of the searched triangles to each of ``points`` (k, 3) mm.

        Where there are no triangles to search: distance infinite, triangle -1, point nan.
        """
        asked = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
        count = len(asked)
        if count == 0 or len(self.surface.triangles if self._rows is None else self._rows) == 0:
            return _nowhere(count)
        found = _asked(*self._built, asked)
        return found if self._rows is None else replace(found, triangle=self._rows[found.triangle])

    def first_hit(self, points: Floats, directions: Floats, within_mm: float) -> tuple[Ints, Floats]:
        """The first searched triangle on the way from each of ``points`` (k, 3) mm along unit ``directions`` (k, 3),
        (k,), and how far it is, (k,) mm; -1 and infinite where there is none ``within_mm``.

        >>> sheet = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0]]), np.array([[0, 1, 2]]))
        >>> Tree(sheet).first_hit(np.array([[0.5, 0.5, 3.0], [5, 5, 3]]), np.array([[0, 0, -1.0]] * 2), 4.0)
        (array([ 0, -1]), array([ 3., inf]))
        """
        tree, vertices, corners = self._built
        start, way = (np.ascontiguousarray(rows, dtype=np.float64) for rows in (points, directions))
        row, far, _ = tree.intersect_ray_first(vertices, corners, start, way, within_mm)
        row = np.asarray(row, dtype=np.int64).reshape(-1)
        hit = row >= 0
        far = np.where(hit, np.asarray(far, dtype=np.float64).reshape(-1), np.inf)
        return (row if self._rows is None else np.where(hit, self._rows[row], -1)), far


class LineTree:
    """A search tree over pieces of line: rows (s, 2) of ``points`` (n, 3) mm; built once, when first asked.

    >>> LineTree(np.array([[0.0, 0, 0], [4, 0, 0]]), np.array([[0, 1]])).nearest([[1.0, 0, 2]]).point
    array([[1., 0., 0.]])
    """

    def __init__(self, points: Floats, pieces: Ints) -> None:
        self.points = np.ascontiguousarray(points, dtype=np.float64)
        self.pieces = np.ascontiguousarray(pieces, dtype=np.int64)

    @cached_property
    def _built(self) -> Any:
        import igl

        tree = igl.AABB()
        tree.init(self.points, self.pieces)
        return tree

    def nearest(self, points: ArrayLike) -> Nearest:
        """Nearest point of the lines to each of ``points`` (k, 3) mm; as `Tree.nearest` where there is none."""
        asked = np.ascontiguousarray(points, dtype=np.float64).reshape(-1, 3)
        if len(asked) == 0 or len(self.pieces) == 0:
            return _nowhere(len(asked))
        return _asked(self._built, self.points, self.pieces, asked)


def pairs_within(points: Floats, within_mm: float) -> tuple[Ints, Ints]:
    """First and second rows of all pairs of ``points`` (n, 3) mm that are no farther apart.

    >>> pairs_within(np.array([[0.0, 0, 0], [5, 0, 0], [5, 0.1, 0]]), 1.0)
    (array([1]), array([2]))
    """
    from scipy.spatial import cKDTree

    pairs = cKDTree(points).query_pairs(within_mm, output_type="ndarray")
    return pairs[:, 0], pairs[:, 1]


def _nowhere(count: int) -> Nearest:
    return Nearest(np.full(count, np.inf), np.full(count, -1, dtype=np.int64), np.full((count, 3), np.nan))


def _asked(tree: Any, vertices: Floats, corners: Ints, asked: Floats) -> Nearest:
    squared, row, point = tree.squared_distance(vertices, corners, asked)
    return Nearest(
        np.sqrt(np.asarray(squared, dtype=np.float64).reshape(-1)),
        np.asarray(row, dtype=np.int64).reshape(-1),
        np.ascontiguousarray(point, dtype=np.float64).reshape(-1, 3),
    )
