"""Views: right-handed, whole panel inside, from the side that was asked for. (The camera itself: tests/addon.)"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.map.views import View, at_area, from_a_side, square_on

NORMALS = np.array([[0.0, 0, 1], [0.1, 0, 1], [-0.1, 0.05, 1]])


def cloud(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=(200, 3)) * [300.0, 120.0, 20.0]


def views(points: np.ndarray, normals: np.ndarray, aspect: float) -> list[View]:
    front = square_on(points, normals, aspect)
    return [front, from_a_side(front, "left", points, aspect), from_a_side(front, "right", points, aspect),
            at_area("Low 12", points, normals, aspect)]


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("aspect", [0.5, 1.0, 2.7])
def test_axes_are_right_handed_and_everything_is_seen(seed: int, aspect: float) -> None:
    turn = Rotation.random(random_state=seed).as_matrix()
    points, normals = cloud(seed) @ turn.T + [5e4, -2e4, 7.0], NORMALS @ turn.T
    for view in views(points, normals, aspect):
        axes = np.array([view.right, view.up, view.toward])
        np.testing.assert_allclose(axes @ axes.T, np.eye(3), atol=1e-12)
        assert np.linalg.det(axes) == pytest.approx(1.0)
        seen = view.project(points, 900.0 * aspect, 900.0)
        assert (seen >= 0).all()
        assert (seen <= [900.0 * aspect, 900.0]).all()
        if not view.close:  # and it fills the picture one way
            assert np.max(np.ptp(seen, axis=0) / [900.0 * aspect, 900.0]) == pytest.approx(1 / 1.03)
        np.testing.assert_allclose(seen.min(axis=0) + seen.max(axis=0), [900.0 * aspect, 900.0], rtol=1e-6)


def test_the_front_looks_along_the_mean_normal_and_the_sides_stand_where_they_say() -> None:
    points = cloud(3)
    front, left, right, low = views(points, NORMALS, 1.5)
    np.testing.assert_allclose(front.toward, NORMALS.sum(axis=0) / np.linalg.norm(NORMALS.sum(axis=0)))
    assert left.toward @ front.right < -0.5 < 0.5 < right.toward @ front.right
    assert left.toward @ front.up > 0.2
    assert (left.name, right.title) == ("left", "From the right")
    assert (low.name, low.title, low.close) == ("low-12", "Low 12", True)


def test_up_is_up() -> None:
    """A door stands (z up); a bonnet on the bench lies (y up)."""
    points = cloud(4)
    assert square_on(points, np.array([[1.0, 0.2, 0.1]]), 1.0).up[2] > 0.9
    assert square_on(points, np.array([[0.0, 0.1, 1.0]]), 1.0).up[1] > 0.9
    assert square_on(points, np.array([[0.0, 0.1, -1.0]]), 1.0).up[1] > 0.9


def test_perspective_divides_by_the_distance_and_knows_behind() -> None:
    """Similar triangles: 2 to the right at 10 ahead, with half the width at tan 0.5, is 0.4 of half the width."""
    axes = np.eye(3)
    view = View("p", "", axes[0], axes[1], axes[2], np.zeros(3), 0.5, True)
    seen = view.project(np.array([[2.0, 1.0, -10.0], [0.0, 0.0, 5.0]]), 100.0, 100.0)
    np.testing.assert_allclose(seen[0], [50 + 0.4 * 50, 50 - 0.2 * 50])
    assert np.isnan(seen[1]).all()


def test_one_point_and_a_closed_body_still_have_a_view() -> None:
    one = square_on(np.zeros((1, 3)), np.zeros((1, 3)), 1.0)
    assert one.half_width == 1.0
    ball = np.vstack([np.eye(3), -np.eye(3)])
    np.testing.assert_array_equal(square_on(ball, ball, 1.0).toward, [0, -1, 0])
