"""The smooth bend behind everything: found through damage, whatever the frame."""

from __future__ import annotations

import numpy as np

from core.shape.background import background, polynomials
from core.shape.bend import Bend
from tests.core.shapes import grid_points, moved, sheet

X, Y = (each - 150 for each in grid_points(300, 300, 5.0))
SHEET = sheet(X, Y, -(X**2 + Y**2) / 3000)
COUNT = X.size


def made(doubled):
    tensor = np.zeros((COUNT, 3, 3))
    tensor[:, 0, 0] = doubled.ravel()
    return Bend(10.0, tensor, np.tile([0.0, 0, 1], (COUNT, 1)), np.ones(COUNT))


def test_a_third_of_it_may_be_damage():
    """A bend of second degree, doubled within a disc of a third of the sheet, with noise: found to a tenth of it."""
    smooth = 1e-3 + 4e-9 * X**2 - 2e-9 * X * Y
    noise = 5e-5 * np.random.default_rng(0).standard_normal(X.shape)
    off = (np.hypot(X - 30, Y) < 95) * 1e-3
    found = background(made(smooth + noise + off), polynomials(SHEET), np.ones(COUNT, bool), SHEET.vertex_areas)
    assert np.abs(found[:, 0, 0] - smooth.ravel()).max() < 1e-4
    assert np.abs(found[:, 1:, :]).max() < 1e-12


def test_the_terms_span_the_same_in_any_frame():
    """The projector on them is the same turned and shifted; orthonormal over the area."""
    turn = np.linalg.qr(np.random.default_rng(1).standard_normal((3, 3)))[0]
    turn *= np.linalg.det(turn)
    one, other = polynomials(SHEET), polynomials(moved(SHEET, turn, [300.0, -20, 50]))
    assert one.shape == other.shape
    weight = SHEET.vertex_areas / SHEET.area
    np.testing.assert_allclose(one.T @ (one * weight[:, None]), np.eye(one.shape[1]), atol=1e-9)
    np.testing.assert_allclose(one @ one[::97].T, other @ other[::97].T, atol=1e-6)


def test_too_little_metal_has_no_background():
    few = np.zeros(COUNT, dtype=bool)
    few[:5] = True
    assert (background(made(1e-3 + 0 * X), polynomials(SHEET), few, SHEET.vertex_areas) == 0).all()
