"""A start without landmarks: from the spread of both surfaces, every likely turn tried."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.place.motion import Motion
from core.place.rough import axes_of, guess
from core.surface.surface import Surface
from tests.core.place.crowned import odd, odd_panel, odd_shape, target_of
from tests.core.place.pierced import pierced
from tests.core.place.pierced import target_of as pierced_target
from tests.core.shapes import grid_points, sheet
from tests.seeds import seeds

TARGET = target_of(odd_shape())


def test_axes_and_spreads_of_a_plate() -> None:
    """A rectangle a x b spreads by a / sqrt 12 and b / sqrt 12 about its middle (textbook)."""
    x, y = grid_points(300, 200, 5)
    turn = Rotation.from_rotvec([0.3, -1.0, 0.5]).as_matrix()
    plate = sheet(x, y, 0 * x)
    axes, middle, spread = axes_of(Surface(plate.vertices @ turn.T, plate.triangles))
    np.testing.assert_allclose(middle, turn @ [150, 100, 0], atol=0.2)
    np.testing.assert_allclose(spread, [300 / np.sqrt(12), 200 / np.sqrt(12), 0], rtol=0.02, atol=1e-5)
    np.testing.assert_allclose(np.abs(turn.T @ axes), np.eye(3), atol=1e-3)
    assert np.linalg.det(axes) == pytest.approx(1.0)


@pytest.mark.parametrize("seed", seeds(6, 1))
def test_any_turn_and_place_is_found(seed: int) -> None:
    """As near as the fine fit needs: a third of the panel's thinnest feature, and sure of it."""
    rng = np.random.default_rng(seed)
    away = Motion(Rotation.random(random_state=rng).as_matrix(), rng.uniform(-1e4, 1e4, 3))
    panel = odd_panel(6.0, seed=seed)
    found = guess(away.surface(panel), TARGET)
    assert np.abs((found.start.motion @ away).of(panel.vertices) - panel.vertices).max() < 5.0
    assert found.sure
    assert found.off_mm < 0.5


def test_a_scan_that_is_inside_out_is_found_as_well() -> None:
    panel = odd_panel(6.0)
    away = Motion(Rotation.from_rotvec([2.0, 1.0, 0.3]).as_matrix(), np.array([800.0, 0, -300]))
    wound = away.surface(Surface(panel.vertices, panel.triangles[:, ::-1]))
    found = guess(wound, TARGET)
    assert np.abs((found.start.motion @ away).of(panel.vertices) - panel.vertices).max() < 5.0
    assert found.sure


def test_a_panel_alike_when_turned_round_is_not_sure() -> None:
    x, y = grid_points(320, 220, 6)
    even = sheet(x, y, -((x - 160) ** 2) / 700 - (y - 110) ** 2 / 500)
    found = guess(even, target_of(even))
    assert not found.sure
    assert found.sureness < 1.5


@pytest.mark.parametrize("seed", range(4))
def test_a_hole_off_its_middle_tells_how_an_even_panel_lies(seed: int) -> None:
    """The surface fits as well turned half round; the hole then lies 180 mm from its place."""
    rng = np.random.default_rng(seed)
    away = Motion(Rotation.random(random_state=rng).as_matrix(), rng.uniform(-1e3, 1e3, 3))
    panel = pierced(6.0, 0.05, seed, dent_mm=2.0)
    found = guess(away.surface(panel), pierced_target(pierced(5.0)))
    assert found.sure
    assert np.abs((found.start.motion @ away).of(panel.vertices) - panel.vertices).max() < 20.0
    solid = pierced(6.0, 0.05, seed, dent_mm=2.0, hole=None)
    assert not guess(away.surface(solid), pierced_target(pierced(5.0, hole=None))).sure


def test_half_a_turn_must_not_be_mistaken_for_none() -> None:
    """A square part: its axes can't be told from their spread, so swaps are tried too."""
    x, y = grid_points(240, 240, 6)
    z = odd(x * 1.25, y * 0.83)
    quarter = Rotation.from_rotvec([0, 0, np.pi / 2]).as_matrix()
    square = sheet(x, y, z)
    found = guess(Surface(square.vertices @ quarter.T, square.triangles), target_of(square))
    placed = found.start.motion.of(square.vertices @ quarter.T)
    assert np.abs(placed - square.vertices).max() < 5.0
