"""Welding against numpy's own grouping of rows, and ordering: the same surface in another order."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis.extra.numpy import arrays

import core.surface.weld as weld
from core.surface.surface import Surface
from core.surface.weld import along_curve, same_place, welded

few_places = arrays(np.float64, st.tuples(st.integers(3, 40), st.just(3)),
                    elements=st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.1, 0.1 + 2e-17, 1e-300, 3e8]))


def grid(n: int, bend: float = 1e-3) -> Surface:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n) * 1.0, np.arange(n) * 1.0, indexing="ij"))
    row = np.arange(n * n).reshape(n, n)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return Surface(np.stack([x, y, bend * (x * x + y * y)], 1), triangles)


def shuffled(surface: Surface, seed: int) -> Surface:
    rng = np.random.default_rng(seed)
    order = rng.permutation(len(surface.vertices))
    new = np.argsort(order)
    return Surface(surface.vertices[order], new[surface.triangles][rng.permutation(len(surface.triangles))])


def places_of(surface: Surface) -> np.ndarray:
    """The triangles as places, each from its smallest corner on, all sorted: free of any order."""
    corners = surface.vertices[surface.triangles]
    keys = corners @ np.array([1.0, 1e4, 1e-3])
    turn = (keys.argmin(axis=1)[:, None] + np.arange(3)) % 3
    rows = np.take_along_axis(corners, turn[:, :, None], axis=1).reshape(-1, 9)
    return rows[np.lexsort(rows.T)]


@given(few_places)
def test_same_place_groups_as_numpy_does(points: np.ndarray) -> None:
    # numpy.unique over rows, an independent grouping; + 0.0 since it tells -0.0 from 0.0 in bits only.
    _, first, group = np.unique(points + 0.0, axis=0, return_index=True, return_inverse=True)
    np.testing.assert_array_equal(same_place(points), first[group.ravel()])


@given(few_places)
def test_welding_moves_nothing_and_leads_back(points: np.ndarray) -> None:
    triangles = np.arange(len(points) // 3 * 3).reshape(-1, 3)
    made = welded(Surface(points, triangles))
    assert len(np.unique(made.vertices + 0.0, axis=0)) == len(made.vertices)
    np.testing.assert_array_equal(made.vertices[made.triangles], points[triangles])
    assert made.row_of_input is not None
    np.testing.assert_array_equal(made.vertices[made.row_of_input], points)


def test_minus_zero_is_zero() -> None:
    assert same_place(np.array([[0.0, 1, 2], [-0.0, 1, 2]])).tolist() == [0, 0]


def test_keys_that_clash_do_not_weld_what_is_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    # All keys alike: the worst hash there can be must still give numpy's grouping.
    monkeypatch.setattr(weld, "_MIX", np.zeros(3, dtype=np.uint64))
    points = np.random.default_rng(0).integers(0, 3, (200, 3)).astype(np.float64)
    _, first, group = np.unique(points, axis=0, return_index=True, return_inverse=True)
    np.testing.assert_array_equal(same_place(points), first[group.ravel()])


def test_a_soup_of_triangles_becomes_the_grid_it_was() -> None:
    whole = grid(30)
    soup = Surface(whole.vertices[whole.triangles].reshape(-1, 3), np.arange(whole.triangles.size).reshape(-1, 3))
    made = welded(soup)
    assert len(made.vertices) == 900
    assert made.edge_counts.nnz // 2 == 900 + len(whole.triangles) - 1  # Euler, a disc: V - E + F = 1


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_order_changes_neither_area_nor_triangles(seed: int) -> None:
    whole = grid(50)
    mixed = shuffled(whole, seed)
    made = along_curve(mixed)
    np.testing.assert_array_equal(places_of(made), places_of(whole))
    assert made.area == pytest.approx(whole.area, rel=1e-12)
    assert made.row_of_input is not None
    np.testing.assert_array_equal(made.vertices[made.row_of_input], mixed.vertices)


def test_ordering_brings_neighbours_together() -> None:
    mixed = shuffled(grid(80), 5)
    step = [np.median(np.abs(np.diff(s.triangles[:, 0]))) for s in (mixed, along_curve(mixed))]
    assert step[1] < step[0] / 50  # random: a third of 6400 rows; along the curve: a few


def test_weld_then_order_leads_back_through_both() -> None:
    whole = shuffled(grid(40), 9)
    soup = Surface(whole.vertices[whole.triangles].reshape(-1, 3), np.arange(whole.triangles.size).reshape(-1, 3))
    made = along_curve(welded(soup))
    assert made.row_of_input is not None
    np.testing.assert_array_equal(made.vertices[made.row_of_input], soup.vertices)
