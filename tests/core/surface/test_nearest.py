"""Nearest points against a brute force over all triangles, and trimesh."""

from __future__ import annotations

import numpy as np
import trimesh

from core.surface.nearest import Tree
from core.surface.surface import Surface


def ball() -> Surface:
    mesh = trimesh.creation.icosphere(subdivisions=2, radius=50.0)
    return Surface(np.array(mesh.vertices, dtype=np.float64), np.array(mesh.faces, dtype=np.int64))


def brute(surface: Surface, rows: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Least distance to any of the triangles ``rows``, by trimesh's closest point on each (another library)."""
    triangles = surface.vertices[surface.triangles[rows]]
    each = []
    for point in points:
        closest = trimesh.triangles.closest_point(triangles, np.tile(point, (len(rows), 1)))
        each.append(np.linalg.norm(closest - point, axis=1).min())
    return np.array(each)


def test_distance_triangle_and_point_agree_with_brute_force() -> None:
    surface = ball()
    points = np.random.default_rng(1).normal(scale=40, size=(60, 3))
    near = Tree(surface).nearest(points)
    np.testing.assert_allclose(near.distance_mm, brute(surface, np.arange(len(surface.triangles)), points), atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(near.point - points, axis=1), near.distance_mm, atol=1e-9)
    # The point lies on the triangle named: trimesh's closest point on that triangle alone is the same.
    alone = trimesh.triangles.closest_point(surface.vertices[surface.triangles[near.triangle]], points)
    np.testing.assert_allclose(alone, near.point, atol=1e-9)


def test_a_part_of_the_triangles_answers_in_numbers_of_the_whole() -> None:
    surface = ball()
    rows = np.flatnonzero(surface.normals[:, 2] > 0.3)
    points = np.random.default_rng(2).normal(scale=40, size=(60, 3))
    near = Tree(surface, triangles=rows).nearest(points)
    assert np.isin(near.triangle, rows).all()
    np.testing.assert_allclose(near.distance_mm, brute(surface, rows, points), atol=1e-9)


def test_lists_views_and_single_precision_are_taken() -> None:
    surface = ball()
    points = np.random.default_rng(3).normal(scale=40, size=(10, 6)).astype(np.float32)
    strided = Tree(surface).nearest(points[:, ::2]).distance_mm
    listed = Tree(surface).nearest(points[:, ::2].tolist()).distance_mm
    np.testing.assert_array_equal(strided, listed)


def test_one_point_and_one_triangle_keep_their_shapes() -> None:
    surface = Surface(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]]), np.array([[0, 1, 2]]))
    near = Tree(surface).nearest([[0.25, 0.25, -2.0]])
    assert near.distance_mm.tolist() == [2.0]
    assert near.triangle.tolist() == [0]
    assert near.point.tolist() == [[0.25, 0.25, 0.0]]


def test_nothing_to_search_is_infinitely_far() -> None:
    near = Tree(ball(), triangles=np.empty(0, dtype=np.int64)).nearest([[0.0, 0, 0]])
    assert near.distance_mm.tolist() == [np.inf]
    assert near.triangle.tolist() == [-1]
    assert np.isnan(near.point).all()


def test_the_tree_is_built_once() -> None:
    tree = Tree(ball())
    tree.nearest([[0.0, 0, 1]])
    built = tree._built[0]
    tree.nearest([[0.0, 0, 2]])
    assert tree._built[0] is built
