"""The bend of a sheet at a scale: closed forms of heat and of curvature, inside and at rims."""

from __future__ import annotations

import numpy as np
import pytest

from core.shape.bend import Spreading, along_sheet
from core.surface.surface import Surface
from tests.core.shapes import grid_points, irregular, moved, saddle_patch, sheet, sphere_patch, torus_patch

X, Y = (each - 100 for each in grid_points(200, 200, 4.0))


def bend(surface, scale=12.0):
    (found,) = Spreading(surface).bends((scale,))
    return found


def inside(surface, by=40.0):
    return (np.abs(surface.vertices[:, :2]) < 100 - by).all(axis=1)


@pytest.mark.parametrize("steps", [1, 3])
def test_a_wave_fades_as_backward_euler_says(steps):
    """cos kx with no slope at the rims: 1 / (1 + k^2 scale^2 / 2 steps)^steps (algebra)."""
    flat, wave, scale = sheet(X, Y, 0 * X), 2 * np.pi / 100, 15.0
    field = np.cos(wave * (X + 100)).reshape(-1, 1)
    fades = (1 + wave**2 * scale**2 / (2 * steps)) ** -steps
    np.testing.assert_allclose(Spreading(flat).spread(field, scale, steps), fades * field, atol=0.01)


def test_nothing_is_lost_at_rims_on_an_uneven_mesh():
    flat = irregular(200, 200, 5.0, np.random.default_rng(0), lambda x, y: 0 * x)
    field = np.random.default_rng(1).standard_normal((len(flat.vertices), 2)) + 3
    spread = Spreading(flat).spread(field, 12.0, 3)
    np.testing.assert_allclose(flat.vertex_areas @ spread, flat.vertex_areas @ field, rtol=2e-3)


def test_a_sphere_bends_alike_right_up_to_its_rim():
    """1 / R both ways along it (R 300); kernels cut off by a rim would make it less by up to half there."""
    found = bend(sphere_patch(X, Y, 300.0))
    np.testing.assert_allclose(found.doubled_mean, 2 / 300, rtol=0.06)
    flat = along_sheet(np.eye(3)[None] / 300, found.normals)
    np.testing.assert_allclose(found.tensor, flat, atol=0.06 / 300)


def test_cylinder_and_saddle_bend_as_they_should():
    """Cylinder R 250: 1 / R across its axis, 0 along; saddle z = (x^2 - y^2) / 2R at its middle: -1 / R and 1 / R."""
    tube = torus_patch(X, Y, np.inf, 250.0)
    at = int(np.argmin((X**2 + Y**2).ravel()))
    np.testing.assert_allclose(bend(tube).tensor[at], np.diag([0, 1 / 250, 0]), atol=2e-5)
    np.testing.assert_allclose(bend(saddle_patch(X, Y, 800.0)).tensor[at], np.diag([-1, 1, 0]) / 800, atol=2e-5)


def test_it_turns_with_the_sheet():
    turn = np.linalg.qr(np.random.default_rng(0).standard_normal((3, 3)))[0]
    turn *= np.linalg.det(turn)
    one, other = torus_patch(X, Y, 600.0, 250.0), moved(torus_patch(X, Y, 600.0, 250.0), turn, [100.0, 20, -300])
    np.testing.assert_allclose(bend(other).tensor, turn @ bend(one).tensor @ turn.T, atol=2e-5)


def test_share_times_bend_has_even_noise():
    """White noise on a flat sheet: at the rim the bend itself is three times as uncertain, times share it is not."""
    noise = 0.05 * np.random.default_rng(2).standard_normal(X.shape)
    surface = sheet(X, Y, noise)
    found = bend(surface)
    middle = inside(surface)
    rim = ~inside(surface, 12.0) & (found.share > 0.35)
    even = found.share * found.doubled_mean
    assert found.doubled_mean[rim].std() > 1.5 * found.doubled_mean[middle].std()
    assert even[rim].std() < 1.4 * even[middle].std()
    assert found.share[middle] == pytest.approx(1.0, abs=0.1)
    assert found.share.min() < 0.2


def test_triangles_without_area_do_no_harm():
    flat = sheet(X, Y, 0 * X)
    flawed = Surface(flat.vertices, np.concatenate([flat.triangles, [[0, 1, 2]]]))  # three points on one line
    assert np.abs(bend(flawed).tensor).max() < 1e-9
