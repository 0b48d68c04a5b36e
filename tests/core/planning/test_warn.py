"""Each warning: said where it is called for, with its figure, and not where it is not.

Sources: the thresholds that core/planning/warn.py promises (covering under 80 %, noise above the true tolerance, an
edge longer than a quarter of the narrowest area); areas by geometry.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, noise_field, sheet


def planned(panel: Surface, target: Surface, **changes: Any) -> Plan:
    return make_plan(panel, target, Settings(**changes), pick("tin-lead-30-70"))


def flat(width: float = 240.0, height: float = 120.0, step: float = 2.0, z: Any = 0.0) -> Surface:
    x, y = grid_points(width, height, step)
    return sheet(x, y, 0 * x + z)


def said(plan: Plan, pattern: str) -> list[str]:
    assert all("\n" not in text and not text.endswith(".") for text in plan.warnings)
    return [text for text in plan.warnings if re.search(pattern, text)]


def test_a_good_scan_and_a_plain_job_call_for_nothing() -> None:
    x, y = grid_points(240.0, 120.0, 2.0)
    noise = noise_field(x.shape, 2.0, 8.0, 0.03, np.random.default_rng(4))
    panel = sheet(x, y, noise - cosine_dent(x, y, (120, 60), (40, 40), 2.0))
    assert planned(panel, flat_target(240.0, 120.0)).warnings == ()


def test_same_surface() -> None:
    panel = flat()
    (text,) = planned(panel, panel).warnings
    assert "the same surface" in text
    # The same metal laid true, on a shape of its own, is a sound panel and no mistake: hundredths apart.
    near = flat(z=0.01 * np.sin(grid_points(240.0, 120.0, 2.0)[0] / 9))
    assert not said(planned(near, flat_target(240.0, 120.0)), "same surface")


@pytest.mark.parametrize(("covered", "warned"), [(0.5, True), (0.78, True), (0.82, False), (1.0, False)])
def test_covering(covered: float, warned: bool) -> None:
    u, v = np.meshgrid([-30.0, 240.0 * covered if covered < 1 else 300.0], [-30.0, 150.0], indexing="ij")
    texts = said(planned(flat(), sheet(u, v, 0 * u)), "covers")
    assert len(texts) == warned
    if warned:
        share = int(re.search(r"covers (\d+)%", texts[0])[1])  # type: ignore[index]
        assert share == pytest.approx(100 * covered, abs=1)


@pytest.mark.parametrize(("share", "warned"), [(0.25, True), (0.05, False)])
def test_facing(share: float, warned: bool) -> None:
    """A part of the panel turned over, apart from the rest: it lies nearer the shape than it faces."""
    panel, width = flat(), 240.0 * share
    middle = panel.vertices[panel.triangles].mean(axis=1)
    left = panel.part(middle[:, 0] < width)
    right = panel.part(middle[:, 0] > width)
    over = left.turned(np.ones(len(left.triangles), dtype=bool))
    # Folded behind the right part, 3 mm below it: an inner skin, which is claimed by the outer one.
    folded = over.vertices + [width + 10, 0, -3.0]
    both = Surface(np.concatenate([right.vertices, folded]),
                   np.concatenate([right.triangles, over.triangles + len(right.vertices)]))
    texts = said(planned(both, flat_target(240.0, 120.0)), "faces the other way from the finished shape and")
    assert len(texts) == warned
    if warned:
        assert int(re.match(r"(\d+)%", texts[0])[1]) == pytest.approx(100 * share, abs=2)  # type: ignore[index]


@pytest.mark.parametrize(("sigma", "warned"), [(0.5, True), (0.15, False)])
def test_noise(sigma: float, warned: bool) -> None:
    """Said where the scan is rougher than what it is to tell."""
    noise = noise_field((121, 61), 2.0, 5.0, sigma, np.random.default_rng(8))
    texts = said(planned(flat(z=noise), flat_target(240.0, 120.0)), "the scan is rough by")
    assert len(texts) == warned
    if warned:
        assert "it cannot tell 0.3 mm from 1 mm" in texts[0]
        assert "use it for rough quantity, not for filing" in texts[0]
        told = float(re.search(r"rough by ([\d.]+) mm", texts[0])[1])  # type: ignore[index]
        assert told == pytest.approx(sigma, rel=0.2)


@pytest.mark.parametrize(("depth", "side"), [(0.2, "below"), (-0.2, "above"), (0.05, None)])
def test_offset(depth: float, side: str | None) -> None:
    """The whole panel a fifth of a millimetre off: paint or line-up, four times the stated uncertainty of 0.05."""
    texts = said(planned(flat(z=-depth), flat_target(240.0, 120.0)), "sound metal lies")
    assert len(texts) == (side is not None)
    if side is not None:
        assert f"lies 0.20 mm {side} the finished shape" in texts[0]


@pytest.mark.parametrize(("step", "warned"), [(2.0, False), (12.0, True)])
def test_coarse(step: float, warned: bool) -> None:
    """A dent 60 mm wide, seen about 50 mm wide: a quarter is 12 mm, and a cell's diagonal of 17 mm is longer."""
    x, y = grid_points(240.0, 120.0, step)
    panel = sheet(x, y, -cosine_dent(x, y, (120, 60), (30, 30), 3.0))
    texts = said(planned(panel, flat_target(240.0, 120.0)), "coarse")
    assert len(texts) == warned
    if warned:
        assert texts[0].startswith("the scan is coarse for Low 1:")


def test_deep_areas_bring_their_advice() -> None:
    x, y = grid_points(240.0, 120.0, 2.0)
    deep = "rough a dent out first, then scan again.*build this in sheet"
    for depth, words in ((5.0, "bring the metal up first"), (12.0, deep)):
        panel = sheet(x, y, -cosine_dent(x, y, (120, 60), (40, 40), depth))
        assert len(said(planned(panel, flat_target(240.0, 120.0)), f"^Low 1: .*{words}")) == 1


def test_metal_not_judged_beside_a_low_is_said() -> None:
    """The shape ends across the dent: how deep it is beyond, nobody knows. One that ends beside it says nothing."""
    x, y = grid_points(240.0, 120.0, 2.0)
    panel = sheet(x, y, -cosine_dent(x, y, (120, 60), (40, 40), 2.0))
    for end, warned in ((125.0, True), (200.0, False)):
        u, v = np.meshgrid([-30.0, end], [-30.0, 150.0], indexing="ij")
        assert len(said(planned(panel, sheet(u, v, 0 * u)), "^Low 1.*not measured")) == warned


@pytest.mark.parametrize("seed", range(8))
def test_what_lies_beyond_the_reach_is_said_with_its_size_and_what_to_do(seed: int) -> None:
    """A dent of d/2 (1 + cos(pi r)) is deeper than the reach within r = arccos(2 reach / d - 1) / pi (by hand).

    Widened for the edge of the grid: half a cell around.
    """
    chance = np.random.default_rng(seed)
    reach, deep = chance.uniform(8.0, 20.0), chance.uniform(1.2, 2.0)
    a, b = chance.uniform(70.0, 110.0, 2)
    up = bool(seed % 2)
    x, y = grid_points(300.0, 300.0, 3.0)
    dent = cosine_dent(x, y, (150, 150), (a, b), deep * reach)
    plan = planned(sheet(x, y, dent if up else -dent), flat_target(300.0, 300.0), reach_mm=reach)
    texts = said(plan, r"is looked \(")
    (text,) = texts
    share = np.arccos(2 / deep - 1) / np.pi
    told = float(re.search(r"^\w+ 1: ([\d.]+) cm²", text)[1])  # type: ignore[index]
    area = np.pi * share**2 * a * b / 100
    # vertex areas are of the metal as it lies, so that of the slope counts too: up to 1 / cos of the dent's steepest
    steepest = np.hypot(1, np.pi / 2 * deep * reach / min(a, b))
    assert area * 0.93 < told < area * 1.07 * steepest
    assert ("lower it first, then scan again" if up else "rough it out first, then scan again") in text
    assert "not measured" not in text


def test_metal_beyond_the_reach_apart_from_the_panel_is_named_too() -> None:
    """A piece of 60 by 60 mm that the scanner saw 40 mm behind the panel."""
    behind = sheet(*(p + 90.0 for p in grid_points(60.0, 60.0, 2.0)), -40.0 + 0 * grid_points(60.0, 60.0, 2.0)[0])
    front = flat()
    both = Surface(np.concatenate([front.vertices, behind.vertices]),
                   np.concatenate([front.triangles, behind.triangles + len(front.vertices)]))
    (text,) = said(planned(both, flat_target(240.0, 240.0)), r"is looked \(20 mm\)")
    assert text.startswith("36.0 cm² of the panel lie further off")
    assert "rough it out first, then scan again" in text


def test_a_panel_within_reach_says_nothing_of_it() -> None:
    x, y = grid_points(240.0, 120.0, 2.0)
    panel = sheet(x, y, -cosine_dent(x, y, (120, 60), (40, 40), 12.0))
    assert not said(planned(panel, flat_target(240.0, 120.0)), r"is looked \(")


def test_the_gravest_comes_first() -> None:
    """Turned over, then half covered, then what concerns single areas."""
    x, y = grid_points(240.0, 120.0, 2.0)
    panel = sheet(x, y, -cosine_dent(x, y, (60, 60), (40, 40), 5.0))
    over = panel.turned(np.ones(len(panel.triangles), dtype=bool))
    u, v = np.meshgrid([-30.0, 130.0], [-30.0, 150.0], indexing="ij")
    texts = planned(over, sheet(u, v, 0 * u)).warnings
    order = [next(k for k, text in enumerate(texts) if word in text) for word in ("turned", "covers", "Low 1")]
    assert order == sorted(order)


@pytest.mark.parametrize("off", [-3.0, -0.8, -0.3, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("sigma", [0.0, 0.03])
def test_a_panel_that_is_off_all_over_is_said_and_by_how_much(off: float, sigma: float) -> None:
    x, y = grid_points(240.0, 120.0, 2.0)
    noise = noise_field(x.shape, 2.0, 8.0, sigma, np.random.default_rng(5)) if sigma else 0.0
    panel = sheet(x, y, noise - off - cosine_dent(x, y, (120, 60), (40, 40), 2.0))
    plan = planned(panel, flat_target(240.0, 120.0))
    (text,) = said(plan, "by much the same")
    assert ("low" in text) == (off > 0)
    assert float(re.search(r"([\d.]+) mm", text)[1]) == pytest.approx(abs(off), abs=0.02)  # type: ignore[index]
    # What it advises puts it right: the shape set in by so much leaves the dent alone (volume: calculus).
    dent = planned(panel, flat_target(240.0, 120.0), finish_mm=off)
    assert not said(dent, "by much the same")
    (area,) = (work.area for work in dent.works)
    assert area.volume_mm3 == pytest.approx(np.pi * 40**2 * 2 * (0.5 - 2 / np.pi**2), rel=0.05)


@pytest.mark.parametrize("seed", range(8))
def test_damage_however_large_is_not_said_to_be_off_all_over(seed: int) -> None:
    rng = np.random.default_rng(seed)
    x, y = grid_points(240.0, 120.0, 2.0)
    depth = sum(cosine_dent(x, y, tuple(rng.uniform(0, [240, 120])), tuple(rng.uniform(30, 110, 2)), rng.uniform(-4, 4))
                for _ in range(3))
    assert not said(planned(sheet(x, y, -depth), flat_target(240.0, 120.0)), "by much the same")
