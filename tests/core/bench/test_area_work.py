"""What each area asks for, by hand from DESIGN section 2 and by calculus on dents whose shape is known."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from core.bench.area_work import AreaWork, Laying, ToLay, area_works, summed
from core.bench.materials import pick
from core.depth.survey import Rules, Survey, survey
from core.fill.overbuild import Hand, chance_of_low_spot
from core.surface.condition import mend
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

LAYING = Laying(pick("tin-lead-30-70"), Hand(), 0.05, 12.7, 10.0)


def surveyed(low: float, high: float) -> tuple[Surface, Survey]:
    """Two cosine dents of 40 mm half width, ``low`` mm below and ``high`` mm above the sheet."""
    x, y = grid_points(220.0, 110.0, 2.0)
    z = cosine_dent(x, y, (160, 55), (40, 40), high) - cosine_dent(x, y, (60, 55), (40, 40), low)
    panel, _ = mend(sheet(x, y, z), "panel")
    target = flat_target(220.0, 110.0)
    return panel, survey(panel, target, Tree(target), Rules())


@pytest.fixture(scope="module")
def deep() -> tuple[Surface, Survey]:
    return surveyed(5.0, 1.0)


def low_and_high(works: tuple[AreaWork, ...]) -> tuple[AreaWork, AreaWork]:
    low, high = works
    assert (low.area.kind, high.area.kind) == ("low", "high")
    return low, high


def test_nothing_is_laid_on_a_high(deep: tuple[Surface, Survey]) -> None:
    _, high = low_and_high(area_works(*deep, LAYING))
    assert high == AreaWork(high.area, high.length_mm, high.width_mm)
    assert (high.as_it_lies, high.raised, high.minimum_overbuild_mm, high.margin_area_mm2) == (ToLay(), None, 0.0, 0.0)


def test_laid_volume_and_passes_by_hand(deep: tuple[Surface, Survey]) -> None:
    for material in (pick("tin-lead-30-70"), pick("polyester"), replace(pick("polyester"), contraction=0.0)):
        low, _ = low_and_high(area_works(*deep, replace(LAYING, material=material)))
        t0, c = low.minimum_overbuild_mm, material.contraction
        laid = low.area.volume_mm3 * (1 + c / (1 - c)) + t0 * low.area.area_mm2 + 0.5 * t0 * low.margin_area_mm2
        assert low.laid_volume_mm3 == pytest.approx(laid, rel=1e-12)
        assert low.passes == math.ceil((low.area.depth_max_mm / (1 - c) + t0) / material.pass_mm)


def test_the_overbuild_keeps_the_risk_and_no_less_would(deep: tuple[Surface, Survey]) -> None:
    """The chance at that thickness less the clean-up is the asked risk (its own Monte Carlo is in test_overbuild)."""
    for risk in (0.01, 0.05, 0.2):
        low, _ = low_and_high(area_works(*deep, replace(LAYING, risk=risk)))
        size = (low.area.area_mm2, low.area.perimeter_mm, Hand(), 0.05)
        assert chance_of_low_spot(low.minimum_overbuild_mm - Hand().clean_up_mm, *size) == pytest.approx(risk, abs=1e-6)


def test_the_metal_too_deep_for_the_material(deep: tuple[Surface, Survey]) -> None:
    """d/2 (1 + cos(pi r / 40)) > g inside r = 40/pi acos(2g/d - 1) (calculus); steadying takes a little off the top."""
    for name in ("tin-lead-30-70", "epoxy-metal"):
        material = replace(pick(name), greatest_depth_mm=3.2 if name.startswith("tin") else 4.0)
        low, _ = low_and_high(area_works(*deep, replace(LAYING, material=material)))
        radius = 40 / np.pi * np.arccos(2 * material.greatest_depth_mm / 5.0 - 1)
        assert low.too_deep_area_mm2 == pytest.approx(np.pi * radius**2, rel=0.06)
        assert low.advice is not None
        assert low.advice.startswith("Low 1: ")
        assert "bring the metal up first" in low.advice


def test_a_dent_the_material_can_fill_asks_for_nothing_more() -> None:
    low, _ = low_and_high(area_works(*surveyed(2.0, 1.0), LAYING))
    assert low.too_deep_area_mm2 == 0.0
    assert low.advice is None


def test_new_metal_where_it_is_deeper_than_the_user_said(deep: tuple[Surface, Survey]) -> None:
    low, _ = low_and_high(area_works(*deep, replace(LAYING, new_metal_mm=4.0)))
    assert low.advice is not None
    assert "rough a dent out first" in low.advice


def test_the_margin_is_a_ring_that_wider_tinning_widens(deep: tuple[Surface, Survey]) -> None:
    """Steiner: perimeter w + pi w^2 around a convex area; the ways along edges leave up to a tenth of it out."""
    panel, found = deep
    low, _ = low_and_high(area_works(panel, found, LAYING))
    ring = np.pi * ((np.sqrt(low.area.area_mm2 / np.pi) + 12.7) ** 2) - low.area.area_mm2
    assert 0.85 * ring < low.margin_area_mm2 < 1.03 * ring
    none, _ = low_and_high(area_works(panel, found, replace(LAYING, margin_mm=0.0)))
    assert none.margin_area_mm2 == 0.0
    assert none.laid_volume_mm3 < low.laid_volume_mm3


def test_no_areas_no_work() -> None:
    panel, found = surveyed(0.0, 0.0)
    assert area_works(panel, found, LAYING) == ()


def two_lows() -> tuple[Surface, Survey]:
    """A wide low of 5 mm and a small one of 2 mm, far enough apart to be two."""
    x, y = grid_points(260.0, 110.0, 2.0)
    z = -cosine_dent(x, y, (60, 55), (50, 50), 5.0) - cosine_dent(x, y, (200, 55), (22, 22), 2.0)
    panel, _ = mend(sheet(x, y, z), "panel")
    target = flat_target(260.0, 110.0)
    return panel, survey(panel, target, Tree(target), Rules())


def test_passes_of_all_areas_are_counted_with_one_overbuild() -> None:
    """By hand: thickness d/(1-c) and the greatest overbuild of the two; the volume takes each area's own."""
    large, small = area_works(*two_lows(), LAYING)
    most, c = large.minimum_overbuild_mm, LAYING.material.contraction
    assert small.minimum_overbuild_mm < most - 0.1
    for low in (large, small):
        assert low.as_it_lies.thickest_mm == pytest.approx(low.area.depth_max_mm / (1 - c) + most)
        assert low.passes == math.ceil(low.as_it_lies.thickest_mm / LAYING.material.pass_mm)
        t0 = low.minimum_overbuild_mm
        laid = low.area.volume_mm3 / (1 - c) + t0 * (low.area.area_mm2 + 0.5 * low.margin_area_mm2)
        assert low.laid_volume_mm3 == pytest.approx(laid, rel=1e-12)


def test_raised_first_where_it_is_too_deep_and_nowhere_else() -> None:
    """The rest of a cosine dent below the limit, integrated over rings (midpoint rule), on facets of 2 mm; the small
    low is shallow enough and stays as it lies."""
    large, small = area_works(*two_lows(), LAYING)
    limit, c, t0 = 3.2, LAYING.material.contraction, large.minimum_overbuild_mm
    r = (np.arange(20_000) + 0.5) * 50 / 20_000
    rest = float(np.sum(np.minimum(2.5 * (1 + np.cos(np.pi * r / 50)), limit) * 2 * np.pi * r) * 50 / 20_000)
    assert small.raised is None
    assert small.recommended is small.as_it_lies
    assert large.raised is not None
    assert large.raised.fill_mm3 == pytest.approx(rest, rel=0.01)
    assert large.raised.laid_mm3 == pytest.approx(
        large.raised.fill_mm3 / (1 - c) + t0 * (large.area.area_mm2 + 0.5 * large.margin_area_mm2)
    )
    assert large.raised.thickest_mm == pytest.approx(limit / (1 - c) + t0)
    both, lying = (summed((large, small), raised=raised) for raised in (True, False))
    assert both.fill_mm3 == pytest.approx(large.raised.fill_mm3 + small.area.volume_mm3)
    assert lying.fill_mm3 == pytest.approx(large.area.volume_mm3 + small.area.volume_mm3)
    assert lying.laid_mm3 == pytest.approx(large.laid_volume_mm3 + small.laid_volume_mm3)
    assert lying.prepared_mm2 == both.prepared_mm2 == pytest.approx(
        sum(low.area.area_mm2 + low.margin_area_mm2 for low in (large, small))
    )


def test_steadier_and_unsteadier_hands_lay_less_and_more() -> None:
    """Each end of the range is the plan of somebody who lays with two thirds, or three halves, of the unevenness."""
    surveyed_lows = two_lows()
    works = area_works(*surveyed_lows, LAYING)
    for share, name in ((2 / 3, "steadier_mm3"), (3 / 2, "unsteadier_mm3")):
        other = area_works(*surveyed_lows, replace(LAYING, hand=Hand(lay_sigma_mm=0.3 * share)))
        for mine, theirs in zip(works, other, strict=True):
            assert getattr(mine.as_it_lies, name) == pytest.approx(theirs.laid_volume_mm3, rel=1e-12)
        assert getattr(summed(works, raised=False), name) == pytest.approx(summed(other, raised=False).laid_mm3)
        assert mine.as_it_lies.steadier_mm3 < mine.laid_volume_mm3 < mine.as_it_lies.unsteadier_mm3
