"""What smooth patches leave of a panel: its noise, and nothing of its shape."""

from __future__ import annotations

import numpy as np
import pytest

from core.statistics.roughness import roughness
from core.surface.surface import Surface
from tests.core.shapes import grid_points, noise_field, sheet, sphere_patch

X, Y = grid_points(480.0, 360.0, 4.0)
EVERYWHERE = np.ones(X.size, dtype=bool)


def test_a_shape_of_degree_4_leaves_nothing() -> None:
    """Closed form: such a shape is a patch itself."""
    u, v = X / 200 - 1, Y / 200 - 1
    left = roughness(sheet(X, Y, 20 * u**2 - 15 * v**4 + 8 * u * v**3), EVERYWHERE).left_mm
    assert np.isfinite(left).mean() > 0.95
    assert np.nanmax(np.abs(left)) < 1e-9


def test_a_sphere_leaves_next_to_nothing() -> None:
    """Taylor: r^6 / (16 R^5) is of a higher degree, 0.0026 mm at a block's corner, 127 mm off, on a sphere of 800 mm;
    the patch takes up most of that too."""
    assert np.nanmax(np.abs(roughness(sphere_patch(X - 240, Y - 180, 800.0), EVERYWHERE).left_mm)) < 2e-3


@pytest.mark.parametrize("turn", [0, 1, 2])
def test_noise_is_left_whole_whichever_way_the_metal_faces(turn: int) -> None:
    noise = noise_field(X.shape, 4.0, 0.0, 0.05, np.random.default_rng(turn))
    panel = sheet(X, Y, noise - (X - 240) ** 2 / 2000)
    turned = Surface(np.roll(panel.vertices, turn, axis=1), panel.triangles)
    left = roughness(turned, EVERYWHERE).left_mm
    assert np.nanstd(left) == pytest.approx(0.05, rel=0.03)
    assert np.isfinite(left).mean() > 0.95


def test_what_is_not_used_has_none_and_leaves_no_trace() -> None:
    dent = np.where(np.hypot(X - 240, Y - 180) < 30, 5.0, 0.0)
    left = roughness(sheet(X, Y, -dent), dent.ravel() == 0).left_mm
    assert np.isnan(left[dent.ravel() > 0]).all()
    assert np.nanmax(np.abs(left)) < 1e-9


def test_swages_all_over_are_no_noise() -> None:
    """Soft swages 6 mm high on two thirds of the panel: noise of 0.03 mm is seen between them."""
    swages = sum(6 * np.exp(-(((X - at) / 30) ** 2)) for at in (60, 420)) + 5 * np.tanh((Y - 250) / 20)
    noise = noise_field(X.shape, 4.0, 0.0, 0.03, np.random.default_rng(4))
    assert np.nanstd(roughness(sheet(X, Y, swages + noise), EVERYWHERE).left_mm) == pytest.approx(0.03, rel=0.15)


def test_values_are_taken_as_they_are() -> None:
    noise = noise_field(X.shape, 4.0, 0.0, 0.05, np.random.default_rng(9)).ravel()
    flat = sheet(X, Y, 0 * X)
    np.testing.assert_allclose(roughness(flat, EVERYWHERE, noise + X.ravel() / 100).left_mm,
                               roughness(flat, EVERYWHERE, noise).left_mm, atol=1e-9)
