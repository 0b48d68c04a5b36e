"""Fairing: a membrane on springs, against a dense twin, closed forms and the maximum principle."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import Delaunay

from core.shape.fairing import faired, flattened
from core.surface.surface import Surface
from tests.core.shapes import grid_points, sheet


def flat(width, height, step):
    x, y = grid_points(width, height, step)
    return sheet(x, y, 0 * x)


def even(count, step):
    """A flat sheet of equal-sided triangles."""
    i, j = (each.ravel() for each in np.meshgrid(np.arange(count), np.arange(count), indexing="ij"))
    places = np.stack([step * (i + 0.5 * (j % 2)), step * np.sqrt(0.75) * j], axis=1)
    inside = Delaunay(places).simplices.astype(np.int64)
    made = Surface(np.column_stack([places, 0 * i]), inside)
    return made.turned(made.normals[:, 2] < 0)


def test_equals_the_least_of_its_energy_by_dense_algebra():
    """The same membrane written as an energy, springs (f - r)^2 and k (f_i - f_j)^2 an edge, solved densely."""
    rng = np.random.default_rng(0)
    surface = flat(20, 16, 2.0)
    known = rng.random(len(surface.vertices)) < 0.6
    given = rng.standard_normal(len(known))
    edges = np.unique(np.sort(np.concatenate([surface.triangles[:, [0, 1]], surface.triangles[:, [1, 2]],
                                              surface.triangles[:, [2, 0]]]), axis=1), axis=0)
    length = np.linalg.norm(surface.vertices[edges[:, 0]] - surface.vertices[edges[:, 1]], axis=1)
    pull = np.zeros((len(edges), len(known)))
    pull[np.arange(len(edges)), edges[:, 0]], pull[np.arange(len(edges)), edges[:, 1]] = 1, -1
    # Six neighbours at distance e around a point sum to 1.5 e^2 times the Laplacian (Taylor), hence 1.5.
    stiffness = (5.0 / length.mean()) ** 2 / 1.5
    dense = np.concatenate([np.diag(known.astype(float)), np.sqrt(stiffness) * pull])
    aim = np.concatenate([np.where(known, given, 0), np.zeros(len(edges))])
    witness = np.linalg.lstsq(dense, aim, rcond=None)[0]
    # The mean edge may be taken over triangles or edges: the rim's edges make one per cent between them.
    np.testing.assert_allclose(faired(surface, given, known, 5.0), witness, atol=0.02)
    assert np.abs(witness).max() > 0.2


def test_a_constant_stays_and_nothing_goes_beyond_what_was_given():
    surface = flat(60, 60, 3.0)
    rng = np.random.default_rng(2)
    known = np.hypot(*(surface.vertices[:, :2] - 30).T) > 15
    np.testing.assert_allclose(faired(surface, np.full(len(known), 0.7), known, 10.0), 0.7, atol=1e-5)
    given = rng.uniform(-0.2, 0.5, len(known))
    filled = faired(surface, np.where(known, given, 99.0), known, 10.0)  # what is not known is not looked at
    assert filled.min() > -0.2  # maximum principle of membranes
    assert filled.max() < 0.5


def test_between_two_held_sides_it_is_a_straight_line():
    surface = even(51, 2.0)
    x = surface.vertices[:, 0]
    known = (x <= 20) | (x >= 80)
    filled = faired(surface, np.where(known, x / 100, 7.0), known, 0.05)  # so short that the springs hold it fast
    np.testing.assert_allclose(filled, x / 100, atol=1e-3)


@pytest.mark.parametrize("length", [8.0, 12.0])
def test_takes_white_noise_down_as_its_filter_says(length):
    """Filter 1 / (1 + L^2 k^2): what is left of white noise on cells of area a is a / (4 pi L^2) (integral over k)."""
    surface = even(110, 2.0)
    noise = np.random.default_rng(4).standard_normal(len(surface.vertices))
    known = np.ones(len(noise), dtype=bool)
    smooth = faired(surface, noise, known, length)
    x, y = surface.vertices[:, :2].T
    middle = (x > 3 * length) & (x < x.max() - 3 * length) & (y > 3 * length) & (y < y.max() - 3 * length)
    cell = 2.0**2 * np.sqrt(0.75)
    assert smooth[middle].std() == pytest.approx(np.sqrt(cell / (4 * np.pi * length**2)), rel=0.12)


def test_a_part_without_anything_known_comes_to_rest_at_nothing():
    one, other = flat(10, 10, 2.0), flat(10, 10, 2.0)
    both = Surface(np.concatenate([one.vertices, other.vertices + [50, 0, 0]]),
                   np.concatenate([one.triangles, other.triangles + len(one.vertices)]))
    known = np.arange(len(both.vertices)) < len(one.vertices)
    filled = faired(both, np.where(known, 0.3, 7.0), known, 10.0)
    np.testing.assert_allclose(filled[known], 0.3, atol=1e-4)
    np.testing.assert_allclose(filled[~known], 0.0, atol=1e-9)


def test_folds_are_spread_out_again():
    """Means of neighbours on an even grid give the even grid back (Tutte): each point is the mean of its six."""
    surface = flat(40, 40, 2.0)
    uv = surface.vertices[:, :2]
    free = np.hypot(*(uv - 20).T) < 12
    tangled = np.where(free[:, None], np.random.default_rng(5).uniform(0, 40, uv.shape), uv)
    np.testing.assert_allclose(flattened(surface, tangled, free), uv, atol=1e-9)


def test_spread_out_points_have_no_fold_whatever_the_grid():
    """Tutte 1963: within a convex border, means of neighbours leave no triangle upside down."""
    rng = np.random.default_rng(6)
    places = rng.uniform(0, 50, (800, 2))
    triangles = Delaunay(places).simplices.astype(np.int64)
    surface = Surface(np.column_stack([places, np.zeros(800)]), triangles)
    surface = surface.turned(surface.normals[:, 2] < 0)
    free = ~surface.on_rim  # the hull, which is convex
    spread = flattened(surface, np.where(free[:, None], rng.uniform(0, 50, places.shape), places), free)
    a, b, c = (spread[surface.triangles[:, k]] for k in range(3))
    assert (np.cross(np.column_stack([b - a, 0 * a[:, 0]]), np.column_stack([c - a, 0 * a[:, 0]]))[:, 2] > 0).all()
