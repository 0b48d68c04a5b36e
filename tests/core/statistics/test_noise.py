"""Noise: FACTS of the trade, Monte Carlo by fields that scipy filters, and measuring what was put in."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats

from core.statistics.noise import Noise, measured, stated
from tests.core.shapes import grid_points, noise_field


def fields(count: int, shape: tuple[int, int], step: float, length: float, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.stack([noise_field(shape, step, length, 1.0, rng) for _ in range(count)])


def test_worked_examples() -> None:
    # Computed from u = sigma A sqrt(A_corr / A): 200 cm2, 0.1 mm, A_corr 4 mm2: 28 mm3.
    assert stated(0.1, 0.0, 4.0).of_volume(20_000) == pytest.approx(28.28, abs=0.01)
    # A_corr = 2 pi l^2 for a smooth field much shorter than the area is wide: the integral of exp(-d^2 / 2 l^2).
    assert stated(0.1, 3.0, 4.0).of_volume(1e6) == pytest.approx(0.1 * np.sqrt(1e6 * 2 * np.pi * 9), rel=0.01)
    # The cell's area gave 12 times too little with 8 mm of correlation (on a mesh of 1.6 mm).
    assert stated(1, 8.0, 0.0).of_volume(1e6) / stated(1, 0.0, 1.67**2).of_volume(1e6) == pytest.approx(12, rel=0.02)


@pytest.mark.parametrize("length", [3.0, 8.0, 20.0])
@pytest.mark.parametrize("radius", [20.0, 60.0])
def test_volume_over_a_disc(length: float, radius: float) -> None:
    # 800 fields summed over a disc; the spread of 800 is known to 1 / sqrt(1600) = 2.5 %, here 3 of these.
    step = 1.5 if length < 5 else 3.0
    side = int(2 * radius / step) + 2
    x, y = np.meshgrid(*2 * [np.arange(side) * step])
    disc = np.hypot(x - x.mean(), y - y.mean()) < radius
    sums = fields(800, (side, side), step, length, 1)[:, disc].sum(axis=1) * step**2
    assert stated(1, length, step**2).of_volume(disc.sum() * step**2) == pytest.approx(sums.std(), rel=0.075)


def test_a_long_area_is_bounded_by_the_disc() -> None:
    # Same area, other shape: never more uncertain than the disc (here a strip 120 x 10 mm), by Monte Carlo.
    sums = fields(400, (60, 5), 2.0, 8.0, 2).sum(axis=(1, 2)) * 4.0
    assert sums.std() < stated(1, 8.0, 4.0).of_volume(60 * 5 * 4.0)


@pytest.mark.parametrize(("length", "allowed"), [(0.0, 0.06), (3.0, 0.10), (8.0, 0.10), (20.0, 0.15)])
def test_mean_of_a_ring(length: float, allowed: float) -> None:
    # Rings of radius 50 mm, 4 mm wide, 800 fields. The strip is straight and the ring closed: at 20 mm, where the
    # ring bends within the correlation, the strip is allowed to say a little less or more.
    step = 2.0
    x, y = np.meshgrid(*2 * [np.arange(57) * step])
    r = np.hypot(x - x.mean(), y - y.mean())
    ring = (r > 48) & (r < 52)
    means = fields(800, x.shape, step, length, 3)[:, ring].mean(axis=1)
    said = stated(1, length, step**2).of_strip(np.array([ring.sum() * step**2 / 4.0]), 4.0)
    assert said[0] == pytest.approx(means.std(), rel=0.075 + allowed)


def test_a_strip_is_never_less_certain_than_a_point() -> None:
    noise = Noise(0.1, 0.2, 8.0, 16.0, np.inf, "stated")
    assert noise.of_strip(np.array([1e-9]), 1.0)[0] == pytest.approx(noise.sigma_mm, rel=1e-3)
    longer = noise.of_strip(np.geomspace(1, 1000, 30), 4.0)
    assert (np.diff(longer) <= 0).all()


@pytest.mark.parametrize(
    ("white", "smooth", "length"),
    [(0.1, 0.0, 0.0), (0.0, 0.05, 8.0), (0.05, 0.05, 8.0), (0.1, 0.03, 20.0), (0.0, 0.1, 20.0)],
)
def test_measured_finds_what_was_put_in(white: float, smooth: float, length: float) -> None:
    # 30 scans of 500 x 400 mm; on average sigma to 5 %, what a 17 cm3 dent's volume needs to 12 %.
    x, y = grid_points(500, 400, 4)
    points = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1)
    area, everywhere = np.full(x.size, 16.0), np.ones(x.size, dtype=bool)
    rng = np.random.default_rng(4)
    found = []
    for _ in range(30):
        depth = noise_field(x.shape, 4, 0, white, rng) + noise_field(x.shape, 4, length, smooth, rng)
        one = measured(points, depth.ravel(), area, everywhere, robust=False)
        assert one is not None
        found.append((one.sigma_mm, one.of_volume(11_310.0), one.white_mm, one.smooth_mm, one.length_mm))
    mean = np.mean(found, axis=0)
    true = Noise(white, smooth, length, 16.0, np.inf, "put in")
    assert mean[0] == pytest.approx(true.sigma_mm, rel=0.05)
    assert mean[1] == pytest.approx(true.of_volume(11_310.0), rel=0.12 if smooth else 0.2)
    if smooth >= 0.05:
        assert mean[3] == pytest.approx(smooth, rel=0.1)
        assert mean[4] == pytest.approx(length, rel=0.15)


def test_stated_freedom_matches_the_scatter() -> None:
    # A figure on nu degrees of freedom scatters by 1 / sqrt(2 nu) (GUM, JCGM 100, E.4.3).
    x, y = grid_points(500, 400, 4)
    points = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1)
    area, everywhere = np.full(x.size, 16.0), np.ones(x.size, dtype=bool)
    rng = np.random.default_rng(6)
    seen = [
        measured(points, noise_field(x.shape, 4, 20, 0.1, rng).ravel(), area, everywhere, robust=False)
        for _ in range(60)
    ]
    volumes = np.array([one.of_volume(11_310.0) for one in seen if one])
    said = np.mean([1 / np.sqrt(2 * one.freedom) for one in seen if one])
    assert volumes.std() / volumes.mean() < 1.6 * said


def test_robust_is_not_led_by_a_dent() -> None:
    # A dent of 3 mm on 6 % of the panel: the plain spread is led astray, the median's is not.
    x, y = grid_points(500, 400, 4)
    points = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1)
    noise = noise_field(x.shape, 4, 8, 0.05, np.random.default_rng(7))
    depth = (noise + np.where(np.hypot(x - 200, y - 150) < 60, 3.0, 0)).ravel()
    area, everywhere = np.full(x.size, 16.0), np.ones(x.size, dtype=bool)
    robust, plain = (measured(points, depth, area, everywhere, robust=r) for r in (True, False))
    assert robust is not None
    assert plain is not None
    assert robust.sigma_mm == pytest.approx(0.05, rel=0.25)
    assert plain.sigma_mm > 0.3


@pytest.mark.parametrize("freedom", [3.0, 23.0, 200.0])
def test_factor_is_students(freedom: float) -> None:
    # Student's t by scipy.stats; GUM table G.2 prints 3.18 for 3 degrees of freedom.
    noise = Noise(0.1, 0.0, 0.0, 1.0, freedom, "measured")
    assert noise.factor_95 == pytest.approx(scipy.stats.t.ppf(0.975, freedom), rel=1e-9)
    if freedom == 3:
        assert noise.factor_95 == pytest.approx(3.18, abs=0.005)


def test_too_little_metal_gives_none_and_a_clean_scan_gives_nought() -> None:
    points = np.random.default_rng(0).uniform(0, 10, (50, 3))
    ones, everywhere = np.ones(50), np.ones(50, dtype=bool)
    assert measured(points, ones, ones, everywhere, robust=False) is None
    x, y = grid_points(400, 300, 5)
    flat = np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1)
    clean = measured(flat, np.zeros(x.size), np.full(x.size, 25.0), np.ones(x.size, dtype=bool), robust=False)
    assert clean is not None
    assert clean.sigma_mm == 0
    assert clean.of_volume(1e4) == 0
