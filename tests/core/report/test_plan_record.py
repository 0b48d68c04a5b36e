"""The record and the table of a plan: plain JSON, units in its keys, the same columns whatever was found."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.planning.plan import Plan, make_plan
from core.report.plan_record import Source, areas_csv, plan_record
from core.settings import Settings
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

PANEL, TARGET = Source("a.ply", "ab" * 32, "in", "panel: in, as stated"), Source("b.stl", "cd" * 32, "mm", "target: mm")


def dented(depth: float = 2.0) -> Surface:
    x, y = grid_points(120.0, 90.0, 3.0)
    return sheet(x, y, -cosine_dent(x, y, (60, 45), (30, 30), depth))


def planned(panel: Surface, target: Surface | None = None, **changes: Any) -> Plan:
    target = flat_target(120.0, 90.0, 30.0) if target is None else target
    return make_plan(panel, target, Settings(**changes), pick(changes.get("material", "tin-lead-30-70")))


@pytest.fixture(scope="module")
def plan() -> Plan:
    return planned(dented())


def test_it_is_plain_json_and_says_where_it_came_from(plan: Plan) -> None:
    record = plan_record(plan, PANEL, TARGET)
    assert json.loads(json.dumps(record, allow_nan=False)) == record  # no arrays, tuples, nan or numpy numbers
    for key, source in (("panel", PANEL), ("target", TARGET)):
        assert [record[key][name] for name in ("file", "sha256", "unit", "unit_note")] == [
            source.file, source.sha256, source.unit, source.unit_note
        ]


def test_a_hardener_is_weighed_where_there_is_one(plan: Plan) -> None:
    """Mass of hardener to one of what is mixed: laid and wasted (materials.toml)."""
    assert plan_record(plan, PANEL, TARGET)["material"]["hardener_g"] is None
    filler = pick("polyester")
    material = plan_record(planned(dented(), material="polyester"), PANEL, TARGET)["material"]
    assert filler.hardener_share is not None
    wanted = material["laid_mass_g"] * (1 + filler.waste_share) * filler.hardener_share
    assert material["hardener_g"] == pytest.approx(wanted)


def test_points_not_judged_are_counted_by_reason() -> None:
    """A panel whose right third hangs past the shape, and its last part beyond the reach."""
    x, y = grid_points(120.0, 90.0, 3.0)
    panel = sheet(x, y, 0 * x)
    u, v = np.meshgrid([-30.0, 80.0], [-30.0, 120.0], indexing="ij")
    record = plan_record(planned(panel, sheet(u, v, 0 * u)), PANEL, TARGET)
    points = record["points"]
    past = x.ravel() > 80 + 0.2  # DESIGN 2: past the rim by more than 0.2 mm
    far = x.ravel() > 80 + 20  # and beyond the reach
    assert points["judged"] == (~past).sum()
    assert points["not_judged"] == {"past_edge": int((past & ~far).sum()), "too_far": int(far.sum()), "faces_away": 0}
    assert record["judged_share"] == pytest.approx(80 / 120, abs=0.02)
    assert record["area_mm2"]["not_judged"] == pytest.approx(120 * 90 * (1 - record["judged_share"]))


def test_depths_are_of_the_judged_points() -> None:
    """On a ramp 0 to 3 mm deep, uniform: p95 is 2.85, rms sqrt(3) (uniform distribution)."""
    x, y = grid_points(120.0, 90.0, 1.5)
    depth = plan_record(planned(sheet(x, y, -x / 40)), PANEL, TARGET)["depth_mm"]
    assert depth["p95"] == pytest.approx(2.85, abs=0.02)
    assert depth["rms"] == pytest.approx(np.sqrt(3.0), abs=0.02)
    assert depth["max"] == pytest.approx(3.0, abs=0.05)
    assert depth["high_max"] == pytest.approx(0.0, abs=0.05)


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_the_table_has_a_line_an_area(plan: Plan) -> None:
    text = areas_csv(plan)
    assert "\r" not in text
    (row,) = rows_of(text)
    area = plan_record(plan, PANEL, TARGET)["areas"][0]
    assert list(row) == list(area)
    assert float(row["volume_mm3"]) == area["volume_mm3"]
    assert [float(v) for v in row["deepest_point_mm"].split()] == pytest.approx(area["deepest_point_mm"], abs=6e-4)


def test_the_table_of_no_areas_has_the_same_heading(plan: Plan) -> None:
    """So that a spreadsheet that reads it by its columns does not fall over on a sound panel."""
    none = areas_csv(planned(dented(0.0)))
    assert rows_of(none) == []
    assert none.splitlines() == areas_csv(plan).splitlines()[:1]
