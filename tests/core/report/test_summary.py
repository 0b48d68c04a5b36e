"""The few lines that a user sees first: the plan's own figures in shop units, in whole words.

Source: conversion by hand, 1 cm2 = 100 mm2, 1 cm3 = 1000 mm3.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from core.bench.materials import pick
from core.files.source import Source
from core.planning.plan import Plan, make_plan
from core.report.summary import summary
from core.settings import Settings
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, noise_field, sheet

SOURCES = (
    Source("door.ply", "", "mm", "panel: mm, as stated; 206 mm from corner to corner"),
    Source("shape.stl", "", "in", "target: in, as stated; 300 mm from corner to corner"),
)


def planned(panel: Surface, target: Surface | None = None, settings: Settings | None = None) -> Plan:
    target = flat_target(180.0, 100.0) if target is None else target
    return make_plan(panel, target, settings or Settings(), pick("tin-lead-30-70"))


def damaged(low: float = 4.0, high: float = 1.0) -> Surface:
    x, y = grid_points(180.0, 100.0, 2.0)
    z = cosine_dent(x, y, (130, 50), (40, 40), high) - cosine_dent(x, y, (48, 50), (42, 42), low)
    return sheet(x, y, z)


@pytest.fixture(scope="module")
def plan() -> Plan:
    return planned(damaged())


def told(plan: Plan) -> str:
    return summary(plan, *SOURCES, [Path("out/plan.json"), Path("out/fill.stl")])


def test_the_files_and_their_units(plan: Plan) -> None:
    text = told(plan)
    assert re.search(r"^Panel +door\.ply: .*mm, as stated; 206 mm", text, re.MULTILINE)
    assert re.search(r"^Finished shape +shape\.stl: .*in, as stated; 300 mm", text, re.MULTILINE)
    assert text.endswith(f"Made {Path('out/plan.json')}, {Path('out/fill.stl')}")


def test_a_row_an_area_in_shop_units(plan: Plan) -> None:
    for work in plan.works:
        area = work.area
        (row,) = [line for line in told(plan).splitlines() if line.startswith(area.name)]
        figures, _, _ = row.removeprefix(area.name).partition("  on the edge of")
        numbers = [float(v) for v in re.findall(r"(?<![\d.a-z])[\d.]+", figures)]
        wanted = [(area.depth_max_mm, 0.05), (work.length_mm, 0.5), (work.width_mm, 0.5)]
        if area.kind == "low":
            wanted = [
                (area.depth_max_mm, 0.05), (area.area_mm2 / 100, 0.5), (area.volume_mm3 / 1000, 0.05),
                (area.volume_u95_mm3 / 1000, 0.05), (work.minimum_overbuild_mm, 0.05),
                    (work.as_it_lies.thickest_mm, 0.05), (work.passes, 0),
            ]
        assert len(numbers) == len(wanted)
        for number, (value, half) in zip(numbers, wanted, strict=True):
            assert abs(number - value) <= half + 1e-9


def test_the_rows_stand_under_their_headings(plan: Plan) -> None:
    lines = told(plan).splitlines()
    heading = next(line for line in lines if "deepest" in line)
    row = next(line for line in lines if line.startswith("Low 1"))
    ends = [match.end() for match in re.finditer(r"deepest|area|volume|give or take|overbuild|to lay|layers", heading)]
    assert [match.end() for match in re.finditer(r"[\d.]+ (mm|cm²|cm³)|\d+$", row)] == ends


def test_totals_and_what_to_buy(plan: Plan) -> None:
    text, totals, need = told(plan), plan.totals, plan.quantity
    assert f"{totals.fill_mm3 / 1000:.1f} cm³, give or take {totals.fill_u95_mm3 / 1000:.1f} cm³" in text
    (high,) = (work.area for work in plan.works if work.area.kind == "high")
    assert f"up to {high.depth_max_mm:.1f} mm, to be tapped down or shrunk first" in text
    assert f"{totals.cut_mm3 / 1000:.1f} cm³" not in text.split("Highs", 1)[1].splitlines()[0]
    assert f"{need.finished_mass_g:.0f} g finished, {need.laid_mass_g:.0f} g laid" in text
    assert f"({need.steadier_mass_g:.0f} to {need.unsteadier_mass_g:.0f} g from a steadier" in text
    assert "1 stick of 454 g to buy, with 25% in reserve" in text
    assert f"about {need.filed_share:.0%} of what is laid is filed off again" in text
    assert f"about {need.paste_g:.0f} g of paste, or {need.flux_g:.0f} g of flux" in text
    assert "5%" in text
    assert "2 sticks of 454 g to buy" in told(replace(plan, quantity=replace(need, packs=2)))


def test_every_warning_is_said(plan: Plan) -> None:
    assert any("bring the metal up first" in warning for warning in plan.warnings)
    for warning in plan.warnings:
        assert f"! {warning}\n" in told(plan)


def test_only_high_metal_asks_for_no_material() -> None:
    text = told(planned(damaged(0.0)))
    assert "High 1" in text
    assert "to buy" not in text
    assert "risk" not in text


def test_a_sound_panel() -> None:
    text = told(planned(damaged(0.0, 0.0)))
    assert "No area to work on: the panel is true within 0.25 mm" in text
    assert "to buy" not in text


def test_a_scan_too_rough_to_tell_is_not_called_true() -> None:
    """Noise of 2 mm: no area stands out of it, and the panel may be anything. "True within 0.25 mm" would be false."""
    x, y = grid_points(180.0, 100.0, 2.0)
    noise = noise_field(x.shape, 2.0, 6.0, 2.0, np.random.default_rng(2))
    plan = planned(sheet(x, y, noise))
    assert plan.works == ()
    text = told(plan)
    assert "is true within" not in text
    assert "can't tell" in text


def test_paint_in_words() -> None:
    lines = []
    for finish in (0.2, -0.2):
        text = told(planned(damaged(), None, Settings(finish_mm=finish)))
        lines += [line for line in text.splitlines() if line.startswith(("Finish ", "Paint"))]
        assert "0.2 mm" in lines[-1]
    assert len(lines) == 2
    assert lines[0] != lines[1]
    assert "-0.2" not in lines[1]  # nobody takes off minus a fifth of paint


def test_metal_not_judged_is_reported() -> None:
    u, v = np.meshgrid([-30.0, 140.0], [-30.0, 130.0], indexing="ij")
    text = told(planned(damaged(), sheet(u, v, 0 * u)))
    assert re.search(r"Not measured +(39|40|41) cm²", text)  # 40 mm of 180 by 100 mm
    assert "Not measured" not in told(planned(damaged()))


def test_too_deep_metal_is_counted_twice_and_raised_first_is_recommended(plan: Plan) -> None:
    lines = told(plan).splitlines()
    (low,) = (work for work in plan.works if work.area.kind == "low")
    assert low.raised is not None
    assert plan.raised is not None
    row = lines[next(k for k, line in enumerate(lines) if line.startswith("Low 1")) + 1]
    assert row.split()[:3] == ["raised", "3.2", "mm"]
    assert f"{low.raised.fill_mm3 / 1000:.1f} cm³" in row
    lying, raised = (next(k for k, line in enumerate(lines) if line.startswith(name))
                     for name in ("As it lies", "Raised first"))
    assert raised > lying
    assert "recommended" in lines[raised]
    assert "a limit and no aim" in lines[raised]
    assert f"{plan.raised.quantity.finished_mass_g:.0f} g finished" in lines[raised + 1]
    shallow = told(planned(damaged(2.0)))
    assert "raised" not in shallow.lower()
    assert "Material        Tin-lead" in shallow


def test_little_filed_off_asks_for_no_card() -> None:
    """Over 40 % (common practice) a card offered up while hot is named, below it is not."""
    even = planned(damaged(3.0), settings=Settings(lay_sigma_mm=0.05, clean_up_mm=0.05))
    assert even.quantity.filed_share < 0.4
    assert "offering a card" not in told(even)
    rough = planned(damaged(3.0), settings=Settings(lay_sigma_mm=0.5))
    assert rough.quantity.filed_share > 0.4
    assert "offering a card up while it is hot" in told(rough)


def test_a_high_on_the_edge_of_a_low_is_named_with_it() -> None:
    x, y = grid_points(180.0, 100.0, 2.0)
    z = cosine_dent(x, y, (115, 50), (25, 25), 1.2) - cosine_dent(x, y, (60, 50), (30, 30), 3.0)
    row = next(line for line in told(planned(sheet(x, y, z))).splitlines() if line.startswith("High 1"))
    assert row.endswith("on the edge of Low 1: one damage, worked together")
