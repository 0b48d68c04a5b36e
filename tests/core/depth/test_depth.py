"""Sign and size of depth, and the reasons why some points have none."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.depth.depth import Depth, Reason, measure_depth
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core import shapes

SQUARE = shapes.flat_target(100.0, 100.0, past=0.0)
UP = np.array([[0.0, 0, 1]])


def asked(points: object, normal: Floats = UP, target: Surface = SQUARE, finish: float = 0.0) -> Depth:
    at = np.atleast_2d(np.asarray(points, dtype=float))
    return measure_depth(at, np.broadcast_to(normal, at.shape), target, Tree(target), 20.0, finish)


@given(st.floats(-19.0, 19.0), st.floats(1.0, 99.0), st.floats(1.0, 99.0))
def test_depth_below_a_plane_is_minus_height(z: float, x: float, y: float) -> None:
    # By definition: positive below.
    assert asked([x, y, z]).depth_mm[0] == pytest.approx(-z, abs=1e-12)


@pytest.mark.parametrize(("out", "z", "judged"), [
    (0.19, -1.0, True), (0.21, -1.0, False), (0.19, 0.0, True), (0.21, 0.0, False),
    # a tenth of the distance to the rim: leans of 0.0995 and 0.1005
    (0.0995 * 10, -10.0, True), (0.101 * 10, -10.0, False), (0.101 * 10, 10.0, False),
])
def test_lean_past_the_rim(out: float, z: float, judged: bool) -> None:
    # The rule: sideways by more than 0.2 mm and a tenth of the distance is past the edge.
    got = asked([100.0 + out, 50.0, z])
    assert got.reason[0] == (Reason.JUDGED if judged else Reason.PAST_EDGE)
    assert np.isnan(got.depth_mm[0]) != judged
    if judged:
        assert abs(got.depth_mm[0]) == pytest.approx(np.hypot(out, z), rel=1e-12)


def test_every_reason() -> None:
    points = np.array([[50.0, 50, -3], [101, 50, 0], [50, 50, -25], [50, 50, -3]])
    normals = np.array([[0.0, 0, 1], [0, 0, 1], [0, 0, 1], [0, 0, -1]])
    got = measure_depth(points, normals, SQUARE, Tree(SQUARE), 20.0)
    assert got.reason.tolist() == [Reason.JUDGED, Reason.PAST_EDGE, Reason.TOO_FAR, Reason.FACES_AWAY]
    assert got.judged.tolist() == [True, False, False, False]
    for field in (got.depth_mm, got.feet, got.foot_normals):
        assert np.isnan(field[1:]).all()
        assert np.isfinite(field[0]).all()


@pytest.mark.parametrize("finish", [0.3, -0.5])
def test_finish_sets_the_shape_in(finish: float) -> None:
    # By definition: the finished shape lies finish_mm lower, so everything is less deep by as much.
    got = asked([[50.0, 50, -2.0], [50, 50, 1.0]], finish=finish)
    np.testing.assert_allclose(got.depth_mm, [2.0 - finish, -1.0 - finish], atol=1e-12)
    np.testing.assert_allclose(got.feet[:, 2], -finish, atol=1e-12)


def test_finish_on_a_ball_is_a_smaller_ball() -> None:
    # Concentric spheres, R = 100, fine facets: depth at radius r is R - finish - r.
    x, y = shapes.grid_points(60.0, 60.0, 0.5)
    target = shapes.sphere_patch(x - 30, y - 30, 100.0)
    points = shapes.sphere_patch(x[40:80, 40:80] - 30, y[40:80, 40:80] - 30, 100.0, 2.0)
    got = measure_depth(points.vertices, points.vertex_normals, target, Tree(target), 20.0, 0.4)
    np.testing.assert_allclose(got.depth_mm, 1.6, atol=1e-3)


@settings(max_examples=60)
@given(st.floats(20.0, 170.0), st.floats(0.0, 1.0), st.floats(0.3, 6.0))
def test_sign_around_a_sharp_ridge(turn: float, share: float, far: float) -> None:
    # Points in the fan over a ridge have their foot on its edge, where a face's own normal can't tell the side:
    # all of them lie above (Baerentzen & Aanaes 2005). Below the ridge all lie below.
    ridge = shapes.roof(np.arange(-50.0, 51, 10), np.arange(0.0, 101, 7), turn)
    angle = np.radians(turn) * (share - 0.5)
    way = np.array([np.sin(angle), 0, np.cos(angle)])
    got = asked(np.array([0, 50, 0]) + far * way, target=ridge)
    if turn < 134:
        assert got.judged[0]
    if got.judged[0]:
        assert got.depth_mm[0] == pytest.approx(-far, rel=1e-9)
    under, deep = asked([0.0, 50.0, -far], target=ridge), far * np.cos(np.radians(turn) / 2)
    if turn < 160:
        assert under.depth_mm[0] == pytest.approx(deep, rel=1e-9)
    elif turn > 161 and deep > 0.2:  # faces within 10 degrees of square to the point's normal
        assert under.reason[0] == Reason.FACES_AWAY


def test_points_on_the_target_itself() -> None:
    # Vertices, middles of edges and of faces of a crowned target: depth 0, all judged, rims included.
    x, y = shapes.grid_points(60.0, 60.0, 6.0)
    target = shapes.sphere_patch(x - 30, y - 30, 300.0)
    a, b, c = target.corners
    points = np.concatenate([target.vertices, (a + b) / 2, (b + c) / 2, (a + b + c) / 3])
    got = measure_depth(points, np.tile(UP, (len(points), 1)), target, Tree(target))
    assert got.judged.all()
    np.testing.assert_allclose(got.depth_mm, 0.0, atol=1e-12)


def test_tiny_and_needle_triangles_do_not_turn_the_sign() -> None:
    # A crowned target whose triangles are needles 60 mm long and 1 micrometre wide: above is above.
    x = np.array([0.0, 20, 20.001, 20.002, 40])
    y = np.arange(0.0, 61, 60)
    target = shapes.extruded(x, -((x - 20.001) ** 2) / 800, y)
    points = np.random.default_rng(2).uniform([1, 1, 0.5], [39, 59, 4], (2000, 3))
    assert (measure_depth(points, np.tile(UP, (2000, 1)), target, Tree(target)).depth_mm < 0).all()
    points[:, 2] -= 6
    assert (measure_depth(points, np.tile(UP, (2000, 1)), target, Tree(target)).depth_mm > 0).all()


def test_no_points_at_all() -> None:
    got = measure_depth(np.empty((0, 3)), np.empty((0, 3)), SQUARE, Tree(SQUARE))
    assert got.depth_mm.shape == (0,)
    assert got.feet.shape == (0, 3)
