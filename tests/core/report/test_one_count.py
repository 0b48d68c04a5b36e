"""Map, legend, list and Read Depth say the same of the same place: in how many passes it is laid, overbuild and all.

Witness: a place of depth d, contraction c, laid t0 proud, takes d / (1 - c) + t0 (this file's own arithmetic), and a
whole number of passes over it.
"""

from __future__ import annotations

import math
import re
from typing import Any

import numpy as np
import pytest

from core.bench.materials import pick
from core.legend.drawing import Line
from core.legend.legend import legend
from core.legend.legend_section import PASS, legend_section
from core.map.drawn import CONTOURS, PALE
from core.map.map_lines import height_mm, map_lines
from core.planning.plan import Plan, make_plan
from core.report import laying_words
from core.report.depth_probe import probed
from core.report.plan_lines import area_figures
from core.settings import Settings
from core.surface.surface import Floats, Surface

NEAR_MM = 0.12  # denoising shifts a level that much on a steep flank


def fall_mm(deep_mm: float, x: Floats, y: Floats) -> Floats:
    depth: Floats = deep_mm * np.exp(-(x**2 + y**2) / (2 * 20.0**2))
    return depth


def dented(deep_mm: float) -> tuple[Surface, Surface]:
    """A plate of 160 mm with one smooth dent, and the flat shape."""
    ticks = np.linspace(-80.0, 80.0, 121)
    x, y = (axis.ravel() for axis in np.meshgrid(ticks, ticks, indexing="ij"))
    row = np.arange(len(x)).reshape(121, 121)
    a, b, c, d = (part.ravel() for part in (row[:-1, :-1], row[1:, :-1], row[1:, 1:], row[:-1, 1:]))
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    fall = fall_mm(deep_mm, x, y)
    return Surface(np.column_stack([x, y, -fall]), triangles), Surface(np.column_stack([x, y, 0 * x]), triangles)


@pytest.fixture(scope="module", params=[
    ("tin-lead-30-70", 4.4, 0.05), ("tin-lead-30-70", 2.3, 0.01), ("polyester", 3.7, 0.05), ("polyester", 5.5, 0.001),
])
def plan(request: pytest.FixtureRequest) -> Plan:
    name, deep_mm, risk = request.param
    return make_plan(*dented(deep_mm), Settings(risk=risk, material=name), pick(name))


def record_of(plan: Plan) -> dict[str, Any]:
    """What plan.json would hold, as far as passes go."""
    (work,) = plan.works
    material = plan.material
    return {
        "settings": {"true_mm": plan.settings.true_mm},
        "material": {"pass_mm": material.pass_mm, "greatest_depth_mm": material.greatest_depth_mm,
                     "kind": material.kind, "contraction": material.contraction},
        "overbuild": {"minimum_mm": plan.totals.minimum_overbuild_mm},
        "areas": [{
            "kind": "low", "number": 1, "depth_max_mm": work.area.depth_max_mm, "area_mm2": work.area.area_mm2,
            "volume_mm3": work.area.volume_mm3, "passes": work.passes,
            "minimum_overbuild_mm": work.minimum_overbuild_mm,
        }],
    }


def counted(plan: Plan, depth_mm: float) -> int:
    thick = depth_mm / (1 - plan.material.contraction) + plan.totals.minimum_overbuild_mm
    return math.ceil(thick / plan.material.pass_mm)


def read(plan: Plan, depth_mm: float) -> int:
    rows = probed([1.0], [depth_mm], [1], record_of(plan)).rows
    found = re.search(r"to lay, (?:about )?(\d+) (?:layer|pass)", rows[1])
    assert found is not None
    return int(found[1])


def heavy_lines_mm(plan: Plan) -> Floats:
    """The depths on the map's heavier lines: medians of the true depth under each."""
    panel, key = plan.panel.surface, legend(plan.settings.true_mm, plan.material.greatest_depth_mm)
    lines = [line for line in map_lines(plan, key) if line.layer in (CONTOURS, PALE)]
    long = [line for line in lines if np.linalg.norm(np.diff(line.points, axis=0), axis=1).sum()
            > 5 * height_mm(panel)]
    widest = max(float(np.max(line.width)) for line in long)
    heavy = [line for line in long if float(np.max(line.width)) == widest]
    deep_mm = -float(panel.vertices[:, 2].min() + panel.origin[2])
    return np.array([np.median(fall_mm(deep_mm, *(line.points + panel.origin)[:, :2].T)) for line in heavy])


def test_read_depth_counts_as_the_bench_does(plan: Plan) -> None:
    for depth in np.linspace(0.3, plan.works[0].area.depth_max_mm, 40):
        assert read(plan, float(depth)) == counted(plan, float(depth))


def test_the_list_counts_what_is_read_at_the_deepest_place(plan: Plan) -> None:
    record = record_of(plan)
    (area,) = record["areas"]
    listed = area_figures(area, plan.material.kind, "mm")[-1]
    assert int(listed.removeprefix("about ")) == read(plan, area["depth_max_mm"])


def test_one_pass_more_is_read_beyond_each_heavy_line_of_the_map(plan: Plan) -> None:
    found = heavy_lines_mm(plan)
    deepest, thinnest = plan.works[0].area.depth_max_mm, plan.settings.true_mm
    assert len(found) >= counted(plan, deepest - NEAR_MM) - counted(plan, thinnest + NEAR_MM) > 0
    for depth in found:
        assert read(plan, depth + NEAR_MM) == read(plan, depth - NEAR_MM) + 1


def test_the_legend_draws_the_lines_of_the_map(plan: Plan) -> None:
    key = legend(plan.settings.true_mm, plan.material.greatest_depth_mm)
    drawing = legend_section(key, 640, 360, laying_words.lay_up_of(record_of(plan)))
    shapes = [shape for shape in drawing.shapes if isinstance(shape, Line)]
    level = next(s.points[0, 1] for s in shapes if s.colour != PASS and len(s.points) == 2
                 and s.points[0, 1] == s.points[1, 1])
    greatest = key.edges_mm[-1]
    metal = [s.points for s in shapes if len(s.points) > 9][1]
    number = next(t for t in reversed(drawing.shapes) if getattr(t, "text", "") == f"{greatest:g}")
    scale = (np.interp(number.x, *metal.T) - level) / math.asinh(greatest)
    drawn = np.sinh([(s.points[0, 1] - level) / scale for s in shapes if s.colour == PASS])
    assert len(drawn)
    for depth in drawn:
        assert counted(plan, depth + 0.01) == counted(plan, depth - 0.01) + 1
    for depth in heavy_lines_mm(plan):
        assert np.abs(drawn - depth).min() < NEAR_MM
