"""The surface's measures against closed forms and trimesh, and the checks at the door."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.errors import InputError
from core.surface.surface import Surface, cross, dot, normalised
from core.surface.validate import validate


def ring() -> tuple[Surface, trimesh.Trimesh]:
    mesh = trimesh.creation.torus(600.0, 250.0)
    return Surface(np.array(mesh.vertices, dtype=np.float64), np.array(mesh.faces, dtype=np.int64)), mesh


def test_measures_agree_with_trimesh() -> None:
    surface, mesh = ring()  # trimesh: another library
    np.testing.assert_allclose(surface.areas, mesh.area_faces, rtol=1e-12)
    np.testing.assert_allclose(surface.normals, mesh.face_normals, atol=1e-12)
    assert surface.area == pytest.approx(mesh.area, rel=1e-12)
    assert surface.mean_edge == pytest.approx(mesh.edges_unique_length.mean(), rel=1e-12)  # closed: each side twice
    assert surface.diagonal == pytest.approx(mesh.scale, rel=1e-12)
    assert (surface.edge_counts.nnz // 2, set(surface.edge_counts.data)) == (len(mesh.edges_unique), {2})


def test_area_of_a_torus_converges_to_the_closed_form() -> None:
    # 4 pi^2 R r, Pappus; the facets' chord error is of second order in the step.
    exact = 4 * np.pi**2 * 600 * 250
    errors = []
    for sections in (32, 64, 128):
        mesh = trimesh.creation.torus(600.0, 250.0, major_sections=sections, minor_sections=sections)
        errors.append(1 - Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64)).area / exact)
    assert errors[0] / errors[1] == pytest.approx(4, rel=0.02)
    assert errors[1] / errors[2] == pytest.approx(4, rel=0.02)


def test_vertex_areas_share_out_the_whole_area() -> None:
    surface, _ = ring()
    assert surface.vertex_areas.sum() == pytest.approx(surface.area, rel=1e-12)
    # One triangle of 6 mm2, twice the unit: a third each.
    lone = Surface(np.array([[0.0, 0, 0], [4, 0, 0], [0, 3, 0]]), np.array([[0, 1, 2]]))
    assert lone.vertex_areas.tolist() == [2.0, 2.0, 2.0]


def test_vertex_normals_of_a_ball_point_outward() -> None:
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=500.0)
    surface = Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))
    assert dot(surface.vertex_normals, surface.vertices / 500).min() > 1 - 1e-4  # closed form: the radius


def test_cross_and_unit_agree_with_numpy() -> None:
    a, b = np.random.default_rng(0).normal(size=(2, 100, 3))
    np.testing.assert_allclose(cross(a, b), np.cross(a, b), atol=1e-14)
    np.testing.assert_allclose(normalised(a), a / np.linalg.norm(a, axis=1)[:, None], atol=1e-15)


def test_part_keeps_the_way_back_to_the_input() -> None:
    surface, _ = ring()
    keep = surface.normals[:, 2] > 0.5
    part = surface.part(keep)
    again = part.part(part.normals[:, 0] > 0)
    assert part.area == pytest.approx(surface.areas[keep].sum(), rel=1e-12)
    for smaller in (part, again):
        assert smaller.row_of_input is not None
        held = smaller.row_of_input >= 0
        np.testing.assert_array_equal(smaller.vertices[smaller.row_of_input[held]], surface.vertices[held])
        assert held.sum() == len(smaller.vertices)


def test_turned_and_moved_surfaces_stay_in_place() -> None:
    surface, _ = ring()
    over = surface.turned(np.ones(len(surface.triangles), dtype=bool))
    np.testing.assert_allclose(over.normals, -surface.normals, atol=1e-12)
    far = surface.about(np.array([1e5, 2e4, -3.0]))
    np.testing.assert_allclose(far.vertices + far.origin, surface.vertices, atol=1e-9)


@pytest.mark.parametrize(
    ("vertices", "triangles", "sentence"),
    [
        ([], [[0, 1, 2]], "it holds no points"),
        ([[0, 0, 0]], [], "no triangles"),
        ([[0, 0]], [[0, 0, 0]], r"\(n, 3\) real numbers"),
        ([["a", "b", "c"]], [[0, 0, 0]], r"\(n, 3\) real numbers"),
        ([[0, 0, 0]], [[0, 0, 0, 0]], r"\(m, 3\) row numbers"),
        ([[0, 0, 0]], [[0.0, 0.0, 0.0]], r"\(m, 3\) row numbers"),
        ([[0, 0, 0], [np.nan, 0, 0]], [[0, 0, 1]], r"1 of 2 points are not finite \(first: row 1\)"),
        ([[0, 0, 0], [0, np.inf, 0]], [[0, 0, 1]], "not finite"),
        ([[0, 0, 0]], [[0, 0, 0], [0, 0, 1]], "first: triangle 1; there are 1 points"),
        ([[0, 0, 0]], [[0, 0, -1]], "name points that are not there"),
    ],
)
def test_bad_arrays_get_one_sentence(vertices: list[object], triangles: list[object], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as told:
        validate(vertices, triangles, "panel")
    assert str(told.value).startswith("panel: ")
    assert "\n" not in str(told.value)
