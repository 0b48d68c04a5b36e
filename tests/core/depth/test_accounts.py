"""What must add up: areas, what is too small or shallow for one, and what lies in none, make the enclosed volumes."""

from __future__ import annotations

from dataclasses import astuple, replace

import numpy as np
import pytest

from core.depth.accounts import Split, accounts
from core.depth.areas import Areas
from core.depth.survey import Rules, Survey, survey
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, noise_field, sheet
from tests.seeds import seeds

WIDTH, HEIGHT = 300.0, 200.0
TARGET = flat_target(WIDTH, HEIGHT)
TREE = Tree(TARGET)


def found(panel: Surface) -> Survey:
    return survey(panel, TARGET, TREE, Rules(line_up_mm=0.0))


def adds_up(split: Split) -> None:
    """To rounding: the parts are exact sums over the same pairs of triangles."""
    enclosed, *parts = astuple(split)
    assert sum(parts) == pytest.approx(enclosed, rel=1e-9, abs=1e-6)


def block(x: Floats, y: Floats, centre: Floats, half: Floats, depth: float) -> Floats:
    """A flat-bottomed place with walls of one edge."""
    return np.where((abs(x - centre[0]) < half[0]) & (abs(y - centre[1]) < half[1]), depth, 0.0)


@pytest.mark.parametrize("step", [1.5, 2.0, 4.0])
def test_a_low_that_meets_a_high_at_a_sharp_edge_keeps_its_volume(step: float) -> None:
    # Heights over a grid: the enclosed volumes on either side, by the prisms, are what each area must hold.
    x, y = grid_points(WIDTH, HEIGHT, step)
    depth = block(x, y, np.array([100, 100]), np.array([40, 40]), 3.0)
    depth = np.where((depth == 0) & (x >= 140) & (x < 170) & (abs(y - 100) < 40), -1.5, depth)
    seen = found(sheet(x, y, -depth))
    assert [a.name for a in seen.areas.found] == ["Low 1", "High 1"]
    low, high = seen.areas.found
    assert low.volume_mm3 == pytest.approx(3 * 80 * 80, rel=2.5 * step / 80)  # walls lean over one edge
    # Sides are told from depth smoothed over 3 mm: a strip under 0.5 mm of the 80 mm edge may change hands.
    assert low.volume_mm3 == pytest.approx(seen.inside.fill_mm3.sum(), abs=80 * 0.5 * 1.5)
    assert high.volume_mm3 == pytest.approx(seen.inside.cut_mm3.sum(), abs=80 * 0.5 * 1.5)
    assert low.depth_max_mm == pytest.approx(3.0, abs=1e-9)  # no deeper than anything measured
    assert high.depth_max_mm == pytest.approx(1.5, abs=1e-9)


def scene(seed: int) -> tuple[Surface, Floats]:
    """Lows and highs, sharp or smooth, over one another and at the edge, some too small, with and without noise."""
    rng = np.random.default_rng(seed)
    step = rng.choice([1.5, 2.0, 3.0])
    x, y = grid_points(WIDTH, HEIGHT, step)
    depth = np.zeros_like(x)
    for _ in range(rng.integers(1, 7)):
        centre, half = rng.uniform([0, 0], [WIDTH, HEIGHT]), rng.uniform(4, 60, 2)
        size = rng.choice([-1, 1]) * rng.uniform(0.1, 5)
        if rng.random() < 0.5:
            depth = np.where(block(x, y, centre, half, 1.0) > 0, size, depth)
        else:
            depth += cosine_dent(x, y, (centre[0], centre[1]), (half[0], half[1]), size)
    if rng.random() < 0.5:
        depth += noise_field(x.shape, step, rng.choice([0.0, 6.0]), 0.04, rng)
    panel = sheet(x, y, -depth)
    if rng.random() < 0.5:
        panel = replace(panel, triangles=rng.permutation(panel.triangles))
    return panel, depth


@pytest.mark.parametrize("seed", seeds(40, 12))
def test_every_arrangement_adds_up_and_leaves_nothing_out(seed: int) -> None:
    panel, depth = scene(seed)
    seen = found(panel)
    for split in (seen.accounts.fill, seen.accounts.cut):
        adds_up(split)
        assert split.left_out_mm3 == 0
        assert min(astuple(split)) >= -1e-9
    assert seen.accounts.missed == ()
    # Under a flat shape fill less cut is each triangle's flat area times its mean depth (closed form).
    a, b, c = (panel.vertices[panel.triangles[:, k], :2] for k in range(3))
    u, v = b - a, c - a
    flat = 0.5 * np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
    signed = float(flat @ depth.ravel()[panel.triangles].mean(axis=1))
    assert seen.accounts.fill.enclosed_mm3 - seen.accounts.cut.enclosed_mm3 == pytest.approx(signed, rel=1e-9, abs=1e-6)


def test_what_an_area_should_hold_and_does_not_is_said_with_size_and_place() -> None:
    x, y = grid_points(WIDTH, HEIGHT, 2.0)
    panel = sheet(x, y, -cosine_dent(x, y, (200, 80), (40, 40), 3.0))
    seen = found(panel)
    none = Areas((), np.zeros(len(panel.vertices), int), np.zeros(len(panel.triangles), int),
                 np.zeros(len(panel.triangles), bool), np.zeros((0, 0)))
    beyond = np.where(seen.steady.smoothed_mm > 0.25, 1.0, 0.0)
    told = accounts(panel, seen.sheets, seen.inside, none, beyond, 100.0)
    adds_up(told.fill)
    (part,) = told.missed
    assert part.kind == "low"
    # Where the cosine dent is deeper than 0.25 mm: within r of its middle, d/2 (1 + cos pi r/40) = 0.25 (calculus).
    radius = 40 * np.arccos(2 * 0.25 / 3.0 - 1) / np.pi
    assert part.area_mm2 == pytest.approx(np.pi * radius**2, rel=0.1)
    assert part.middle_mm[:2] == pytest.approx((200, 80), abs=1)
    assert told.fill.left_out_mm3 > 0.9 * seen.inside.fill_mm3.sum()
