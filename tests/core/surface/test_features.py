"""Rims and holes: closed forms of length and circle, trimesh's outline, and loops that touch."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial import Delaunay
from scipy.spatial.transform import Rotation

from core.surface.features import circle_of, rims
from core.surface.surface import Surface


def flat_grid(nx: int, ny: int, step: float = 1.0) -> Surface:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(nx) * step, np.arange(ny) * step, indexing="ij"))
    row = np.arange(nx * ny).reshape(nx, ny)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return Surface(np.stack([x, y, 0 * x], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def drilled(holes: list[tuple[float, float, float]], side: float = 100.0, step: float = 4.0) -> Surface:
    """A flat panel with round holes (x, y, diameter), each of 24 points on its circle."""
    x, y = (a.ravel() for a in np.meshgrid(np.arange(0, side + 1, step), np.arange(0, side + 1, step)))
    points = np.stack([x, y], axis=1)
    turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    for hx, hy, diameter in holes:
        points = points[np.hypot(points[:, 0] - hx, points[:, 1] - hy) > diameter / 2 + 0.5]
    for hx, hy, diameter in holes:
        points = np.concatenate([points, np.array([hx, hy]) + diameter / 2 * np.stack([np.cos(turn), np.sin(turn)], 1)])
    triangles = Delaunay(points).simplices.astype(np.int64)
    middle = points[triangles].mean(axis=1)
    for hx, hy, diameter in holes:
        keep = np.hypot(middle[:, 0] - hx, middle[:, 1] - hy) > diameter / 2 * np.cos(np.pi / 24) - 1e-9
        triangles, middle = triangles[keep], middle[keep]
    surface = Surface(np.column_stack([points, np.zeros(len(points))]), triangles)
    return surface.turned(surface.normals[:, 2] < 0)


def test_bolt_holes_have_their_diameter() -> None:
    # Closed form: the polygons' points lie on the circles; length of a 24-gon 24 d sin(pi/24).
    holes = [(30.0, 30.0, 8.0), (70.0, 40.0, 8.0), (50.0, 75.0, 12.5)]
    panel = drilled(holes)
    place = Rotation.from_euler("xyz", [20, 40, 60], degrees=True)
    moved = Surface(place.apply(panel.vertices) + [1000, 0, -500], panel.triangles)
    for surface, out in ((panel, np.array([0.0, 0, 1])), (moved, place.apply([0, 0, 1.0]))):
        loops = rims(surface)
        assert [loop.kind for loop in loops] == ["rim", "hole", "hole", "hole"]
        assert loops[0].length_mm == pytest.approx(400.0, abs=1e-9)
        assert loops[0].circle is None
        circles = [loop.circle for loop in loops[1:]]
        assert all(c is not None for c in circles)
        assert [c.diameter_mm for c in circles if c] == pytest.approx([12.5, 8.0, 8.0], abs=1e-9)
        for loop, circle in zip(loops[1:], circles, strict=True):
            assert circle is not None
            assert loop.length_mm == pytest.approx(24 * circle.diameter_mm * np.sin(np.pi / 24), abs=1e-9)
            assert circle.normal == pytest.approx(out, abs=1e-9)
            assert circle.misfit_mm < 1e-9
    centres = np.array([loop.circle.centre[:2] for loop in rims(panel)[1:] if loop.circle])
    np.testing.assert_allclose(centres[0], [50, 75], atol=1e-9)
    np.testing.assert_allclose(centres[centres[:, 1] < 50][:, 1].sum(), 70, atol=1e-9)


def test_order_of_points_goes_round_with_the_surface_on_the_left() -> None:
    # Shoelace formula: the rim runs counter-clockwise (positive area), a hole clockwise.
    panel = drilled([(50.0, 50.0, 20.0)])
    rim, hole = rims(panel)
    for loop, area in ((rim, 100.0**2), (hole, -12 * 10.0**2 * np.sin(np.pi / 12))):
        x, y = panel.vertices[loop.vertices, :2].T
        assert (x * np.roll(y, -1) - y * np.roll(x, -1)).sum() / 2 == pytest.approx(area, rel=1e-9)


def test_a_hole_on_a_ragged_grid_is_still_round_and_a_square_is_not() -> None:
    panel = flat_grid(61, 61, 0.5)
    middle = panel.vertices[panel.triangles].mean(axis=1) - [15, 15, 0]
    ragged = rims(panel.part(np.hypot(middle[:, 0], middle[:, 1]) > 4.0))[1]
    assert ragged.circle is not None
    # A staircase lies within half a step of the circle that it was cut along.
    assert ragged.circle.diameter_mm == pytest.approx(8.0, abs=0.5)
    square = rims(panel.part(np.abs(middle[:, :2]).max(axis=1) > 4.0))[1]
    assert square.length_mm == pytest.approx(32.0)
    assert square.circle is None


@pytest.mark.parametrize("each_side", [1, 2, 3, 5, 20])
@pytest.mark.parametrize("corners", [3, 4, 6])
def test_polygons_are_not_circles(corners: int, each_side: int) -> None:
    turn = np.arange(corners + 1) * 2 * np.pi / corners
    at = np.linspace(0, corners, corners * each_side, endpoint=False)
    points = np.stack([np.interp(at, np.arange(corners + 1), f(turn)) for f in (np.cos, np.sin)] + [0 * at], 1)
    assert circle_of(points * 50) is None


def test_an_oblong_slot_is_not_a_circle() -> None:
    turn = np.linspace(0, 2 * np.pi, 40, endpoint=False)
    slot = np.stack([4 * np.cos(turn) + 2 * np.sign(np.cos(turn)), 4 * np.sin(turn), 0 * turn], 1)
    assert circle_of(slot) is None


def test_lengths_agree_with_trimesh_outline() -> None:
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=100)
    ball = Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))
    assert rims(ball) == ()
    cut = ball.part((ball.vertices[ball.triangles].mean(axis=1)[:, 2] < 60) & (ball.normals[:, 0] > -0.8))
    witness = trimesh.Trimesh(cut.vertices, cut.triangles, process=False).outline()  # another library
    expected = sorted(entity.length(witness.vertices) for entity in witness.entities)
    assert sorted(loop.length_mm for loop in rims(cut)) == pytest.approx(expected, rel=1e-12)


def test_holes_that_touch_at_a_point_stay_two() -> None:
    panel = flat_grid(9, 9)
    cell = np.floor(panel.vertices[panel.triangles].mean(axis=1)[:, :2]).astype(int)
    gone = (cell == [3, 3]).all(axis=1) | (cell == [4, 4]).all(axis=1)
    loops = rims(panel.part(~gone))
    # Two unit squares that meet at (4, 4): the triangles between them part the point into two fans.
    assert [loop.length_mm for loop in loops] == pytest.approx([32, 4, 4])
    assert [len(loop.vertices) for loop in loops] == [32, 4, 4]


def test_two_sheets_that_hang_by_a_point_have_two_loops() -> None:
    v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [-1, 0, 0], [0, -1, 0]])
    loops = rims(Surface(v, np.array([[0, 1, 2], [0, 3, 4]])))
    assert [loop.length_mm for loop in loops] == pytest.approx([2 + 2**0.5] * 2)
    assert {loop.piece for loop in loops} == {0}


def test_each_piece_has_its_own_rim() -> None:
    near, far = flat_grid(5, 5), flat_grid(4, 4)
    both = Surface(np.concatenate([far.vertices + [50, 0, 0], near.vertices]),
                   np.concatenate([far.triangles, near.triangles + len(far.vertices)]))
    assert [(loop.kind, loop.piece, loop.length_mm) for loop in rims(both)] == [("rim", 0, 16.0), ("rim", 1, 12.0)]


def test_inconsistent_windings_and_branches_do_not_crash() -> None:
    panel = flat_grid(6, 6)
    mixed = panel.turned(np.random.default_rng(0).random(len(panel.triangles)) < 0.5)
    assert sum(loop.length_mm for loop in rims(mixed)) == pytest.approx(20.0)
    fin = Surface(np.concatenate([panel.vertices, [[2.5, 2.5, 3.0]]]),
                  np.concatenate([panel.triangles, [[14, 15, 36]]]))
    assert len(rims(fin)) >= 1


@pytest.mark.parametrize("share", [0.02, 0.2, 0.5])
def test_a_scan_full_of_gaps_falls_into_simple_loops(share: float) -> None:
    panel = flat_grid(40, 40)
    for seed in range(4):
        torn = panel.part(np.random.default_rng(seed).random(len(panel.triangles)) > share)
        loops = rims(torn)
        assert all(len(np.unique(loop.vertices)) == len(loop.vertices) for loop in loops)
        # Every free edge, found by numpy's count of sorted pairs, lies in just one loop, in the surface's direction.
        sides = np.concatenate([torn.triangles[:, [k, (k + 1) % 3]] for k in range(3)])
        _, group, count = np.unique(np.sort(sides, axis=1), axis=0, return_inverse=True, return_counts=True)
        free = {tuple(side) for side in sides[count[group.ravel()] == 1].tolist()}
        walked = [pair for loop in loops for pair in zip(loop.vertices.tolist(), np.roll(loop.vertices, -1).tolist(),
                                                         strict=True)]
        assert len(walked) == len(set(walked))
        assert set(walked) == free
