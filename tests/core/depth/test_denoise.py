"""Smoothing along the sheet: the heat equation's closed forms, and what it leaves of noise."""

from __future__ import annotations

import numpy as np
import pytest

from core.depth.denoise import steadied
from core.statistics.noise import stated
from tests.core.shapes import grid_points, noise_field, sheet

STEP = 1.0
X, Y = grid_points(120, 100, STEP)
FLAT = sheet(X, Y, 0 * X)
ALL = np.ones(X.size, dtype=bool)
MIDDLE = ((X > 25) & (X < 95) & (Y > 25) & (Y < 75)).ravel()


def test_constants_stay_and_planes_stay_inside() -> None:
    # An average of neighbours keeps a constant everywhere, and a plane where neighbours lie evenly around.
    for field, where in ((np.full(X.size, 2.5), ALL), (0.1 * X.ravel() - 0.2 * Y.ravel(), MIDDLE)):
        steady = steadied(FLAT, field, ALL, 3.0)
        np.testing.assert_allclose(steady.smoothed_mm[where], field[where], atol=1e-9)
        np.testing.assert_allclose(steady.depth_mm[where], field[where], atol=1e-9)


@pytest.mark.parametrize("wave", [40.0, 60.0])
def test_a_wave_is_damped_as_by_the_gaussian(wave: float) -> None:
    # Fourier: a Gaussian of width b leaves g = exp(-2 pi^2 b^2 / wave^2); smoothing the rest as well leaves 1-(1-g)^2.
    field = np.cos(2 * np.pi * X / wave).ravel()
    steady = steadied(FLAT, field, ALL, 3.0)
    left = np.exp(-2 * np.pi**2 * steady.bandwidth_mm**2 / wave**2)
    assert steady.bandwidth_mm == pytest.approx(3.0, rel=0.05)
    gain = (steady.smoothed_mm @ (field * MIDDLE)) / (field @ (field * MIDDLE))
    assert 1 - gain == pytest.approx(1 - left, rel=0.15)  # a grid cut one way smooths a little more along the cut
    kept = (steady.depth_mm @ (field * MIDDLE)) / (field @ (field * MIDDLE))
    assert 1 - kept == pytest.approx((1 - gain) ** 2, rel=0.02)


@pytest.mark.parametrize("length", [0.0, 3.0, 8.0])
def test_noise_left_is_as_the_noise_says(length: float) -> None:
    # Noise from scipy, smoothed by the code; smoothed_mm() is the closed form for two Gaussians one after the other.
    rng = np.random.default_rng(3)
    left, bandwidth = [], 0.0
    for _ in range(30):
        field = noise_field(X.shape, STEP, length, 0.1, rng).ravel()
        steady = steadied(FLAT, field, ALL, 3.0)
        left.append(np.mean(steady.smoothed_mm[MIDDLE] ** 2))
        bandwidth = steady.bandwidth_mm
    wanted = stated(0.1, length, STEP**2).smoothed_mm(bandwidth)
    assert np.sqrt(np.mean(left)) == pytest.approx(wanted, rel=0.12)


def test_a_dents_depth_is_kept() -> None:
    # A paraboloid's top falls by b^2 times its curvature when smoothed once (heat equation), and by nothing twice.
    depth = np.maximum(3 - 3 * ((X - 60) ** 2 + (Y - 50) ** 2) / 40**2, 0).ravel()
    steady = steadied(FLAT, depth, ALL, 3.0)
    curvature = 2 * 3 / 40**2
    assert 3 - steady.smoothed_mm.max() == pytest.approx(steady.bandwidth_mm**2 * curvature, rel=0.05)
    assert steady.depth_mm.max() == pytest.approx(3, abs=2e-3)


def test_points_not_judged_give_nothing_and_take_nothing() -> None:
    judged = ALL & ~((np.abs(X - 60) < 5) & (np.abs(Y - 50) < 5)).ravel()
    field = np.where(judged, 1.0, np.nan)
    steady = steadied(FLAT, field, judged, 3.0)
    np.testing.assert_allclose(steady.depth_mm[judged], 1.0, atol=1e-12)
    assert not steady.depth_mm[~judged].any()


def test_a_coarse_mesh_is_left_as_it_is() -> None:
    x, y = grid_points(400, 300, 20)
    field = np.random.default_rng(1).normal(size=x.size)
    steady = steadied(sheet(x, y, 0 * x), field, np.ones(x.size, dtype=bool), 3.0)
    assert steady.bandwidth_mm == 0
    np.testing.assert_array_equal(steady.depth_mm, field)
