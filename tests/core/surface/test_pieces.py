"""Pieces against trimesh's split, and the parting of branches and pinched points."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.surface.pieces import branches_parted, parted, pieces
from core.surface.surface import Surface


def plate(n: int = 8) -> Surface:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n) * 1.0, np.arange(n) * 1.0, indexing="ij"))
    row = np.arange(n * n).reshape(n, n)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return Surface(np.stack([x, y, 0 * x], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def finned() -> Surface:
    """A plate with an upright fin of the same grid along x = 3: seven edges of three triangles."""
    flat = plate()
    fin = Surface(np.stack([0 * flat.vertices[:, 0] + 3, flat.vertices[:, 1], flat.vertices[:, 0]], 1), flat.triangles)
    foot = np.flatnonzero(fin.vertices[:, 2] == 0)
    row = np.arange(64) + 64
    row[foot] = np.flatnonzero(flat.vertices[:, 0] == 3)
    return Surface(np.concatenate([flat.vertices, fin.vertices]), np.concatenate([flat.triangles, row[fin.triangles]]))


def test_pieces_agree_with_trimesh_largest_first() -> None:
    parts = [trimesh.creation.icosphere(subdivisions=2, radius=r).apply_translation([50 * r, 0, 0]) for r in (2, 5, 3)]
    mesh = trimesh.util.concatenate(parts)
    piece, area = pieces(Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64)))
    expected = sorted((p.area for p in mesh.split()), reverse=True)  # another library
    np.testing.assert_allclose(area, expected, rtol=1e-12)
    assert piece[:: len(piece) // 3].tolist()[:3] == [2, 0, 1]


def test_turned_triangles_and_unused_points_change_no_piece() -> None:
    flat = plate()
    loose = Surface(np.concatenate([[[9.0, 9, 9]], flat.vertices]), flat.triangles + 1)
    mixed = loose.turned(np.random.default_rng(0).random(len(loose.triangles)) < 0.5)
    assert pieces(mixed)[1].tolist() == pytest.approx([49.0])


def test_a_fin_is_parted_and_the_plate_goes_on() -> None:
    for seed in range(5):
        rng = np.random.default_rng(seed)
        surface = finned()
        surface = surface.turned(rng.random(len(surface.triangles)) < 0.5)  # windings must not matter
        made, count = branches_parted(surface)
        assert count == 7
        assert made.edge_counts.data.max() == 2
        piece, area = pieces(made)
        assert area.tolist() == pytest.approx([49.0, 49.0])
        upright = np.abs(made.normals[:, 2]) < 0.5
        assert len(set(piece[upright])) == len(set(piece[~upright])) == 1
        np.testing.assert_array_equal(made.vertices[made.triangles], surface.vertices[surface.triangles])
        assert made.row_of_input is not None
        np.testing.assert_array_equal(made.vertices[made.row_of_input], surface.vertices)


def test_a_clean_surface_is_the_same_object() -> None:
    flat = plate()
    assert branches_parted(flat) == (flat, 0)


def test_a_pinched_point_becomes_one_for_each_fan() -> None:
    v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]])
    made, source = parted(Surface(v, np.array([[0, 1, 2], [0, 3, 4]])), np.array([True] + [False] * 4))
    assert len(made.vertices) == 6
    assert source.tolist() == [0, 1, 2, 3, 4, 0]
    assert len(pieces(made)[1]) == 2
