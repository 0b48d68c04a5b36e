"""The agreeing foot against a plain twin that asks every triangle, and its behaviour in awkward places."""

from __future__ import annotations

import numpy as np
import pytest

from core.depth.feet import find_feet
from core.surface.nearest import Tree
from core.surface.surface import Floats, Ints, Surface, normalised
from tests.core import shapes


def closest_on_segments(p: Floats, a: Floats, b: Floats) -> Floats:
    t = np.clip(((p - a) * (b - a)).sum(-1) / ((b - a) ** 2).sum(-1), 0, 1)
    return a + t[..., None] * (b - a)


def every_distance(point: Floats, surface: Surface) -> Floats:
    """Distance of a point to each of the triangles, (m,): inside by the plane, else the nearest of three sides."""
    a, b, c = (surface.vertices[surface.triangles[:, k]] for k in range(3))
    n = np.cross(b - a, c - a)
    n /= np.linalg.norm(n, axis=1)[:, None]
    height = ((point - a) * n).sum(1)
    foot = point - height[:, None] * n
    inside = np.ones(len(a), dtype=bool)
    for p, q in ((a, b), (b, c), (c, a)):
        inside &= (np.cross(q - p, foot - p) * n).sum(1) >= 0
    sides = np.stack([np.linalg.norm(point - closest_on_segments(point, p, q), axis=1)
                      for p, q in ((a, b), (b, c), (c, a))])
    return np.where(inside, np.abs(height), sides.min(axis=0))


def twin(points: Floats, normals: Floats, target: Surface, reach: float) -> Floats:
    """Distance to the nearest triangle whose normal agrees, (n,); infinite where none within reach.

    Beyond 0.2 mm it agrees by more than 10 degrees off square.
    """
    n = target.area_vectors / np.linalg.norm(target.area_vectors, axis=1)[:, None]
    out = np.full(len(points), np.inf)
    for row, (point, normal) in enumerate(zip(points, normals, strict=True)):
        distance = every_distance(point, target)
        distance = np.where(n @ normal > np.where(distance > 0.2, 0.17, 0.0), distance, np.inf)
        out[row] = distance.min() if distance.min() <= reach else np.inf
    return out


def bumpy(rng: np.random.Generator, size: float) -> Surface:
    x, y = shapes.grid_points(40.0, 40.0, 2.0)
    return shapes.sheet(x, y, rng.normal(0, size, x.shape))


@pytest.mark.parametrize("rough", [0.0, 0.3, 3.0])
def test_agrees_with_a_twin_that_asks_every_triangle(rough: float) -> None:
    # Brute force over a rough sheet with its mirror image 4 mm behind, normals of any direction.
    rng = np.random.default_rng(7)
    front = bumpy(rng, rough)
    back = Surface(front.vertices - [0, 0, 4.0], front.triangles[:, ::-1])
    target = Surface(np.concatenate([front.vertices, back.vertices]),
                     np.concatenate([front.triangles, back.triangles + len(front.vertices)]))
    points = rng.uniform([0, 0, -12], [40, 40, 6], (300, 3))
    normals = normalised(rng.normal(size=(300, 3)))
    got = find_feet(points, normals, target, Tree(target), 8.0)
    exact = twin(points, normals, target, 8.0)
    np.testing.assert_array_equal(got.found, np.isfinite(exact))
    np.testing.assert_allclose(got.distance_mm[got.found], exact[got.found], atol=1e-9)
    np.testing.assert_allclose(np.linalg.norm(got.points - points, axis=1)[got.found], exact[got.found], atol=1e-9)
    assert ((target.normals[got.triangle] * normals).sum(1)[got.found] > 0).all()
    assert got.found.any()


def test_reach_is_kept() -> None:
    # By definition: 8 mm is within a reach of 8, 8.001 is not, whether asked once or again.
    target = shapes.flat_target(10.0, 10.0)
    points = np.array([[5.0, 5, -8], [5, 5, -8.001]])
    up = np.tile([0.0, 0, 1], (2, 1))
    assert find_feet(points, up, target, Tree(target), 8.0).found.tolist() == [True, False]
    skin = Surface(target.vertices - [0, 0, 4], target.triangles[:, ::-1])
    both = Surface(np.concatenate([target.vertices, skin.vertices]),
                   np.concatenate([target.triangles, skin.triangles + 4]))
    assert find_feet(points, up, both, Tree(both), 8.0).found.tolist() == [True, False]


def test_feet_on_edges_and_vertices_of_a_cube() -> None:
    # Points out along the cube's corner and edge directions: distance by hand.
    corner = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float) * 10
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    rows: Ints = np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])
    cube = Surface(corner, rows)
    points = np.array([[12.0, 12, 12], [5, 13, 14], [-3, -4, 5], [5, 5, 12]])
    got = find_feet(points, normalised(points - 5), cube, Tree(cube), 20.0)
    np.testing.assert_allclose(got.distance_mm, [np.sqrt(12), 5, 5, 2], atol=1e-12)


def test_rough_panel_over_rough_target() -> None:
    # Thousands of points whose first foot faces away, each with a normal of its own, against as rough a target.
    rng = np.random.default_rng(1)
    x, y = shapes.grid_points(70.0, 70.0, 1.0)
    target, panel = (shapes.sheet(x, y, rng.normal(0, 1.0, x.shape)) for _ in range(2))
    got = find_feet(panel.vertices - [0, 0, 2.0], panel.vertex_normals, target, Tree(target), 20.0)
    some = np.arange(0, len(x.ravel()), 53)
    exact = twin(panel.vertices[some] - [0, 0, 2.0], panel.vertex_normals[some], target, 20.0)
    np.testing.assert_allclose(got.distance_mm[some], exact, atol=1e-9)
