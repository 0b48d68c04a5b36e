"""The patch: polynomials given back, the degree not led on by noise, other damage disbelieved, creases kept."""

from __future__ import annotations

import numpy as np
import pytest

from core.shape.patch import Crease, fit_patch
from tests.core.shapes import noise_field

# Botsch & Kobbelt 2004: what a biharmonic fill with place and slope given must reproduce exactly.
REPRODUCED = {
    "1": lambda x, y: 0 * x + 1,
    "x": lambda x, y: x,
    "y": lambda x, y: y,
    "x2-y2": lambda x, y: x**2 - y**2,
    "xy": lambda x, y: x * y,
    "r2": lambda x, y: x**2 + y**2,
    "x r2": lambda x, y: x * (x**2 + y**2),
    "y r2": lambda x, y: y * (x**2 + y**2),
}


def ring(step=2.0, inner=30.0, outer=55.0, squeeze=1.0):
    """Places (n, 2) of sound metal around a round hole, narrower one way by ``squeeze``, and what is inside."""
    line = np.arange(-outer, outer + step / 2, step)
    uv = np.stack([each.ravel() for each in np.meshgrid(line, line, indexing="ij")], axis=1)
    radius = np.hypot(*uv.T)
    return uv[(radius >= inner) & (radius <= outer)] * [1, squeeze], uv[radius < inner] * [1, squeeze]


@pytest.mark.parametrize("name", REPRODUCED)
@pytest.mark.parametrize("squeeze", [1.0, 0.3])
def test_polynomials_come_back_inside_the_hole(name, squeeze):
    around, inside = ring(squeeze=squeeze)
    shape = REPRODUCED[name]
    height = shape(*around.T / 50)
    patch, believed = fit_patch(around, height, np.ones(len(around)))
    assert believed.all()
    np.testing.assert_allclose(patch.height(inside), shape(*inside.T / 50), atol=1e-9)


def test_noise_alone_does_not_raise_the_degree():
    """A quadratic under white noise: terms beyond degree 2 foretell nothing."""
    around, _ = ring()
    for seed in range(5):
        noise = 0.05 * np.random.default_rng(seed).standard_normal(len(around))
        patch, _ = fit_patch(around, (around**2).sum(axis=1) / 800 + noise, np.ones(len(around)))
        assert patch.degree == 2
        # Least squares with t terms on n points: foretells within sigma (1 + t / 2n), here 0.2 % above it.
        assert patch.foretold_mm == pytest.approx(0.05, rel=0.08)


def test_a_shape_beyond_degree_2_raises_it():
    around, inside = ring()
    shape = lambda uv: 2 * np.cos(uv[:, 0] / 30)  # noqa: E731
    patch, _ = fit_patch(around, shape(around), np.ones(len(around)))
    assert patch.degree > 2
    assert np.abs(patch.height(inside) - shape(inside)).max() < 0.05


def test_other_damage_in_the_ring_is_not_believed():
    around, inside = ring()
    rng = np.random.default_rng(3)
    hit = np.hypot(*(around - [42, 0]).T) < 9  # a tenth of the ring lies 3 mm deep
    height = around[:, 0] ** 2 / 1000 - 3.0 * hit + 0.02 * rng.standard_normal(len(around))
    patch, believed = fit_patch(around, height, np.ones(len(around)))
    assert 0.03 < hit.mean() < 0.12
    assert not believed[hit].any()
    assert believed[~hit].mean() > 0.99
    assert np.abs(patch.height(inside) - inside[:, 0] ** 2 / 1000).max() < 0.02


def test_area_weights_stand_for_points():
    """A point of weight 3 counts as three points do: least squares has no other meaning for a weight."""
    around, inside = ring(step=3.0)
    rng = np.random.default_rng(1)
    height = 0.05 * rng.standard_normal(len(around))
    weight = rng.integers(1, 4, len(around))
    one, _ = fit_patch(around, height, weight.astype(float))
    terms = np.stack([around[:, 0] ** i * around[:, 1] ** j for i in range(3) for j in range(3 - i)], axis=1)
    many = np.repeat(np.arange(len(around)), weight)
    by_numpy = np.linalg.lstsq(terms[many] / 55.0, height[many], rcond=None)[0] / 55.0
    within = np.stack([inside[:, 0] ** i * inside[:, 1] ** j for i in range(3) for j in range(3 - i)], axis=1)
    assert one.degree == 2
    np.testing.assert_allclose(one.height(inside), within @ by_numpy, atol=1e-9)


def test_smooth_noise_is_not_followed_into_the_hole():
    """Smooth noise of 0.05 mm: the error in the hole stays of its size at degree 2, over seeds."""
    line = np.arange(-55, 55.1, 2.0)
    u, v = (each.ravel() for each in np.meshgrid(line, line, indexing="ij"))
    radius, errors = np.hypot(u, v), []
    for seed in range(10):
        noise = noise_field((len(line), len(line)), 2.0, 8.0, 0.05, np.random.default_rng(seed)).ravel()
        around = (radius >= 30) & (radius <= 55)
        uv = np.stack([u, v], axis=1)
        patch, _ = fit_patch(uv[around], noise[around], np.ones(around.sum()))
        errors.append(np.abs(patch.height(uv[radius < 30])).max())
    assert np.median(errors) < 0.05
    assert max(errors) < 0.12


def test_distance_from_a_crease_runs_on_beyond_its_ends():
    """By hand: an L of two legs, its first carried on to the left, its last upward."""
    crease = Crease(np.array([[0.0, 0], [10, 0], [10, 20]]))
    beside, along = crease.beside(np.array([[4.0, 3], [-30, 2], [13, 12], [8, 90], [10, 0]]))
    np.testing.assert_allclose(beside, [3, 2, 3, 2, 0])
    np.testing.assert_allclose(along, [4, -30, 22, 100, 10])


def test_a_crease_keeps_a_roof_sharp():
    around, inside = ring()
    roof = lambda uv: -0.3 * np.abs(uv[:, 0] - 0.4 * uv[:, 1])  # noqa: E731
    crease = Crease(np.array([[-24.0, -60], [24, 60]]))
    patch, believed = fit_patch(around, roof(around), np.ones(len(around)), (crease,))
    assert believed.all()
    np.testing.assert_allclose(patch.height(inside), roof(inside), atol=1e-9)
    without, _ = fit_patch(around, roof(around), np.ones(len(around)))
    assert np.abs(without.height(inside) - roof(inside)).max() > 0.5  # so the crease is what does it


def test_a_crease_with_a_point_given_twice_is_the_same_crease():
    around, inside = ring()
    height = -0.3 * np.abs(around[:, 0])
    line = np.array([[0.0, -60], [0, 0], [0, 0], [0, 60]])
    twice, _ = fit_patch(around, height, np.ones(len(around)), (Crease(line),))
    np.testing.assert_allclose(twice.height(inside), -0.3 * np.abs(inside[:, 0]), atol=1e-9)


def test_many_creases_on_a_small_ring_still_give_a_patch():
    """60 points are all that carry_through asks for; three creases make 18 terms."""
    around, _ = ring(step=5.8)
    around = around[:60] if len(around) > 60 else around
    assert len(around) == 60
    creases = tuple(Crease(np.array([[-60.0, a], [60, b]])) for a, b in ((0, 0), (-60, 60), (60, -60)))
    patch, _ = fit_patch(around, 0.01 * around[:, 0], np.ones(60), creases)
    np.testing.assert_allclose(patch.height(around), 0.01 * around[:, 0], atol=1e-6)
