"""Carry Through takes the way of filling that does best on the metal near by, at edges and corners as well.

Metal at random, known in closed form: two crowns, four long waves, and on one side a curvature that begins across the
mask, suddenly or gradually. The plain fill beside it, SciPy's thin plate spline through the same sound metal, is the
two-dimensional biharmonic one (Duchon 1977, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from core.shape.carry_through import carry_through
from core.surface.surface import Floats
from tests.core.shapes import grid_points, noise_field, sheet

STEP = 6.0
X, Y = (each - half for each, half in zip(grid_points(600, 420, STEP), (300, 210), strict=True))
SCENES, QUICK = 24, 5  # with the calibration, and at every run
Height = Callable[[Floats, Floats], Floats]


def metal(rng: np.random.Generator) -> Height:
    crowns = rng.uniform(3000, 12_000, 2)
    waves = [(2 * np.pi / rng.uniform(350, 1200), *rng.uniform(0, np.pi, 2), rng.normal()) for _ in range(4)]
    kind, begins, radius = rng.integers(3), rng.uniform(120, 260), rng.uniform(600, 3000)

    def height(x: Floats, y: Floats) -> Floats:
        z = -(x**2) / crowns[0] - y**2 / crowns[1]
        for k, turn, phase, size in waves:
            z = z + size * 0.0006 / k**2 * np.cos(k * (np.cos(turn) * x + np.sin(turn) * y) + phase)
        if kind == 1:
            z = z - np.clip(x - begins, 0, None) ** 2 / (2 * radius)
        if kind == 2:
            z = z - np.clip(x + y - begins, 0, None) ** 3 / (500 * radius)
        return z

    return height


def errors(where: str, seed: int) -> tuple[float, float]:
    """95 % points of the error, mm: of Carry Through, and of the plain fill through 400 points of the ring."""
    rng = np.random.default_rng(seed)
    height = metal(rng)
    middle = {"edge": (297, rng.uniform(-80, 80)), "corner": (297, 207), "inside": rng.uniform(-60, 60, 2)}[where]
    radius = rng.uniform(45, 75)
    away = np.hypot(X - middle[0], Y - middle[1]) / radius
    noise = noise_field(X.shape, STEP, rng.choice([0.0, 12.0]), rng.choice([0.01, 0.05]), rng)
    panel = sheet(X, Y, height(X, Y) - 4 * np.clip(1 - away**2, 0, None) ** 2 + noise)
    mask = (away < 1).ravel()
    carried = carry_through(panel, mask).surface.vertices[mask]
    ring = np.flatnonzero((away < 2).ravel() & ~mask)
    ring = ring[:: max(1, len(ring) // 400)]
    plain = RBFInterpolator(panel.vertices[ring, :2], panel.vertices[ring, 2])(panel.vertices[mask, :2])
    true = height(*carried[:, :2].T), height(*panel.vertices[mask, :2].T)
    return (float(np.percentile(np.abs(carried[:, 2] - true[0]), 95)),
            float(np.percentile(np.abs(plain - true[1]), 95)))


@cache
def scenes(where: str, count: int) -> Floats:
    return np.array([errors(where, seed) for seed in range(count)])


@pytest.mark.calibration
@pytest.mark.parametrize("where", ["edge", "corner", "inside"])
def test_it_is_never_worse_than_the_plain_fill(where: str) -> None:
    """On the whole better, and in a scene worse by half and 0.1 mm only at a corner or two of 24: there both guess."""
    ours, plain = scenes(where, SCENES).T
    assert np.sqrt(np.mean(ours**2)) <= np.sqrt(np.mean(plain**2))
    assert (ours <= 1.5 * plain + 0.1).mean() >= 0.9


@pytest.mark.parametrize("count", [QUICK, pytest.param(SCENES, marks=pytest.mark.calibration)])
def test_at_an_edge_the_metal_s_change_of_curvature_is_followed(count: int) -> None:
    """With polynomials of degree 2 alone, right where that change lies beyond the ring, it was 0.41 mm in the middle of
    the scenes and 3.2 in the worst."""
    ours, _ = scenes("edge", count).T
    assert np.median(ours) < 0.08
    assert ours.max() < 0.5
