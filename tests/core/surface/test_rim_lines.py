"""Rims and holes as lines, against trimesh's outline and the closed form of a ring."""

from __future__ import annotations

import numpy as np
import trimesh

from core.surface.nearest import LineTree
from core.surface.rim_lines import rim_lines
from core.surface.surface import Floats, Surface


def ring(inner: float, outer: float, count: int) -> Surface:
    """A flat ring about the origin, its outside up."""
    mesh = trimesh.creation.annulus(r_min=inner, r_max=outer, height=1.0, sections=count)
    top = mesh.faces[mesh.face_normals[:, 2] > 0.9]
    return Surface(np.asarray(mesh.vertices, dtype=np.float64), top.astype(np.int64))


def test_a_ring_has_its_two_circles_and_points_out_of_the_sheet_on_both() -> None:
    """The chords over two sides of a regular polygon sum to n r sin(2 pi / n), twice counted in halves (textbook)."""
    found = rim_lines(ring(30.0, 100.0, 64))
    assert [loop.kind for loop in found.loops] == ["rim", "hole"]
    for k, radius in enumerate((100.0, 30.0)):
        on = found.loop == k
        np.testing.assert_allclose(found.stands_mm[on].sum(), 64 * radius * np.sin(2 * np.pi / 64), rtol=1e-9)
        out = found.points[on, :2] / radius * (1 if k == 0 else -1)
        np.testing.assert_allclose(found.across[on, :2], out, atol=1e-6)


def test_nearest_points_on_lines_against_trimesh() -> None:
    """trimesh's nearest point on each piece (another library), the nearest of them all."""
    rng = np.random.default_rng(3)
    points = rng.normal(scale=20, size=(40, 3))
    pieces = np.stack([np.arange(39), np.arange(1, 40)], axis=1)
    asked = rng.normal(scale=25, size=(50, 3))
    near = LineTree(points, pieces).nearest(asked)

    def closest(one: Floats) -> float:
        degenerate = points[np.column_stack([pieces, pieces[:, 1]])] + [[0, 0, 0], [0, 0, 0], [1e-9, 0, 0]]
        there = trimesh.triangles.closest_point(degenerate, np.tile(one, (39, 1)))
        return float(np.linalg.norm(there - one, axis=1).min())

    np.testing.assert_allclose(near.distance_mm, [closest(one) for one in asked], atol=1e-7)
    np.testing.assert_allclose(np.linalg.norm(near.point - asked, axis=1), near.distance_mm, atol=1e-9)


def test_no_lines_give_nothing() -> None:
    near = LineTree(np.empty((0, 3)), np.empty((0, 2), dtype=np.int64)).nearest(np.zeros((2, 3)))
    assert np.isinf(near.distance_mm).all()
    assert (near.triangle == -1).all()
