"""Growth of an area ring by ring, on sheets whose edges are known."""

from __future__ import annotations

import numpy as np

from core.depth.grow import Field, grown
from core.statistics.noise import stated
from core.surface.surface import Floats, Ints
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

STEP = 2.0
X, Y = grid_points(240, 160, STEP)
FLAT = sheet(X, Y, 0 * X)
ALL = np.ones(X.size, dtype=bool)
R = np.hypot(X - 120, Y - 80).ravel()


def seeds(depth: Floats, least: float) -> tuple[Ints, Floats]:
    """Label 1 where depth is beyond ``least``, 2 where it is beyond it the other way."""
    return np.where(depth > least, 1, np.where(depth < -least, 2, 0)).astype(np.int64), np.array([1.0, 1.0, -1.0])


def field(depth: Floats, sigma: float = 0.0, offset: float = 0.0) -> Field:
    return Field(depth, ALL, stated(sigma, 0.0, STEP**2), offset)


def test_a_clean_dent_is_taken_to_its_edge() -> None:
    # Without noise every ring with depth in it is taken: all of the dent. From the seed's 33 mm an edge reaches 2.8 mm
    # along the grid's cut and 1.4 mm across it, so where 12 rings are needed across, 34 mm are gone along.
    depth = cosine_dent(X, Y, (120, 80), (50, 50), 2).ravel()
    furthest = 33.4 + 12 * STEP * np.sqrt(2) + STEP
    label, hemmed = grown(FLAT, *seeds(depth, 0.5), field(depth))
    assert (label[depth > 1e-3] == 1).all()
    assert not label[furthest < R].any()
    assert (hemmed[label == 1] == 1).all()
    assert not hemmed[furthest + 12 < R].any()


def test_the_edge_is_followed_below_the_noise_of_a_point() -> None:
    # Noise 0.1 mm; where the dent is 0.1 mm deep a ring of 280 mm by 2 mm still shows it to 0.1 / sqrt(140) = 0.008.
    depth = cosine_dent(X, Y, (120, 80), (50, 50), 2).ravel()
    noise = noise_field(X.shape, STEP, 0, 0.1, np.random.default_rng(1)).ravel()
    label, _ = grown(FLAT, *seeds(depth, 0.5), field(depth + noise, 0.1))
    assert (label[depth > 0.1] == 1).mean() > 0.99
    assert not label[R > 50 + 12].any()


def test_noise_alone_stops_growth() -> None:
    # From a seed on sound metal a ring clears twice its uncertainty once in 44 by chance: areas stay near the seed.
    size = []
    for seed in range(40):
        noise = noise_field(X.shape, STEP, 0, 0.1, np.random.default_rng(seed)).ravel()
        label, _ = grown(FLAT, np.where(R < 20, 1, 0).astype(np.int64), np.array([1.0, 1.0]), field(noise, 0.1))
        size.append(int(label.sum() - (R < 20).sum()))
    assert np.mean([s > 0 for s in size]) < 0.15
    assert max(size) < (R < 30).sum()


def test_an_offset_that_all_share_does_not_flood() -> None:
    depth = cosine_dent(X, Y, (120, 80), (50, 50), 2).ravel() + 0.1
    flooded, _ = grown(FLAT, *seeds(depth, 0.5), field(depth))
    held, _ = grown(FLAT, *seeds(depth, 0.5), field(depth, offset=0.1))
    assert (flooded == 1).all()  # what happens where nothing is known of the offset
    assert not held[R > 50].any()


def test_low_and_high_never_take_each_others_metal() -> None:
    depth = (cosine_dent(X, Y, (90, 80), (40, 40), 2) - cosine_dent(X, Y, (160, 80), (30, 30), 2)).ravel()
    label, hemmed = grown(FLAT, *seeds(depth, 0.5), field(depth))
    for of in (label, hemmed):
        assert (of[depth > 0.05] == 1).all()
        assert (of[depth < -0.05] == 2).all()


def test_points_not_judged_are_no_bridge() -> None:
    # A trough cut by a strip that was not judged: growth stays on its own side.
    depth = np.where(np.abs(Y - 80) < 20, 1.0, 0.0).ravel()
    judged = (np.abs(X - 120) > 5).ravel()
    start = ((X < 60) & (np.abs(Y - 80) < 10)).ravel().astype(np.int64)
    seen = Field(np.where(judged, depth, 0.0), judged, stated(0.0, 0.0, STEP**2), 0.0)
    label, hemmed = grown(FLAT, start, np.array([1.0, 1.0]), seen)
    assert label[((X < 110) & (np.abs(Y - 80) < 18)).ravel()].all()
    assert not label[(X > 115).ravel()].any()
    assert not hemmed[(X > 115).ravel()].any()


def test_no_seed_no_area() -> None:
    label, hemmed = grown(FLAT, np.zeros(X.size, dtype=np.int64), np.ones(1), field(np.ones(X.size)))
    assert not label.any()
    assert not hemmed.any()
