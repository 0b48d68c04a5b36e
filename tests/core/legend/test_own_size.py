"""A panel's size does not change with how it lies; witness: trimesh's least oriented box."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core.legend.own_size import own_sizes


@pytest.mark.parametrize("seed", range(20))
def test_the_sides_of_a_shallow_panel_however_it_lies(seed: int) -> None:
    rng = np.random.default_rng(seed)
    length, width = rng.uniform(200, 1500), rng.uniform(150, 1000)
    x, y = rng.uniform(-0.5, 0.5, (2, 4000))
    corners = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
    x, y = np.append(x, corners[:, 0]) * length, np.append(y, corners[:, 1]) * width
    crown = 0.1 * min(length, width)
    z = -crown * ((2 * x / length) ** 2 + (2 * y / width) ** 2) / 2
    points = Rotation.random(random_state=rng).apply(np.column_stack([x, y, z])) + rng.uniform(-1e4, 1e4, 3)
    # A twentieth of a degree of turn adds the other side times 0.0009.
    found = own_sizes(points)
    assert found[:2] == pytest.approx((max(length, width), min(length, width)), rel=0.01)
    assert found[2] == pytest.approx(crown, rel=0.1)


@pytest.mark.parametrize("seed", range(8))
def test_never_much_larger_than_the_least_box(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    points = rng.normal(size=(300, 3)) * rng.uniform(1, 50, 3)
    points = Rotation.random(random_state=rng).apply(points)
    _, least = trimesh.bounds.oriented_bounds(points)
    assert np.prod(own_sizes(points)) <= 1.25 * np.prod(least)


def test_points_that_are_nowhere_are_left_out() -> None:
    corners = np.array([[0.0, 0, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0]])
    broken = np.vstack([corners, [[np.nan, 1, 1], [np.inf, 0, 0]]])
    assert own_sizes(broken) == own_sizes(corners)
    assert own_sizes(broken[4:]) == (0.0, 0.0, 0.0)


def test_a_line_and_nothing_spread() -> None:
    assert own_sizes([[0, 0, 0], [0, 3, 4]]) == pytest.approx((5.0, 0.0, 0.0), abs=1e-9)
