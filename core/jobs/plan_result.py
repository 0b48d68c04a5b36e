"""A plan as a result: its record, and the arrays that draw it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ..depth.placing import Placing
from ..fill.fill_mesh import fill_mesh
from ..legend.legend import legend
from ..map.chalk import bands
from ..map.chalk_marks import chalk_marks
from ..map.drawn import packed
from ..map.map_lines import map_lines
from ..map.relief import map_colours
from ..planning.plan import Lining, Plan
from ..report.line_up_record import placing_of
from ..report.plan_record import plan_record
from ..surface.surface import Floats, Ints
from .joined import as_came, landmarks_of
from .part import Array, LiningUp, Part
from .result import Result


def lining_of(asked: LiningUp | None) -> Lining | None:
    """A line-up that is asked for, as a plan takes it."""
    return None if asked is None else Lining(landmarks_of(asked.landmarks), asked.locating, asked.aside)


def placing_given(record: dict[str, Any] | None) -> Placing | None:
    """How well a panel was lined up before, as a plan takes it."""
    return None if record is None else placing_of(record)


@dataclass(frozen=True, eq=False)
class PlanResult(Result):
    """A plan: ``plan`` itself, for files; ``unit`` of what is drawn for the eye."""

    plan: Plan | None = None
    unit: str = "mm"

    @classmethod
    def of(cls, plan: Plan, panel: Part, target: Part, unit: str) -> PlanResult:
        """The plan with its record."""
        record = plan_record(plan, panel.source, target.source)
        record["shop_unit"] = unit
        return cls(record, panel.mm_per_unit, plan=plan, unit=unit)

    def arrays(self) -> dict[str, Array]:
        """By vertex that came: ``depth_mm`` (nan where not judged), ``steady_mm``, ``area`` (0, or the place in the
        record's areas from 1), ``colour`` as `map.relief.map_colours` has them. In the panel's frame and unit:
        ``fill_...``, the shells with the area of each triangle;
        ``drawn_...``, the lines on the map as `map.drawn` packs them; ``chalk_...``, and ``smudge_...``, what sets the
        chalk off from its ground."""
        assert self.plan is not None
        return plan_arrays(self.plan, self.mm_per_unit, self.unit)


def plan_arrays(plan: Plan, mm_per_unit: float, unit: str) -> dict[str, Array]:
    """What draws a plan, for a frame of ``mm_per_unit`` and numbers in ``unit``; see `PlanResult.arrays`."""
    found, panel = plan.survey, plan.panel.surface
    row = panel.row_of_input
    assert row is not None  # mend keeps it
    judged = found.planned & found.depth.judged
    key = legend(plan.settings.true_mm, plan.material.greatest_depth_mm, unit)
    vertices, triangles, area = _fill(plan)
    strokes = chalk_marks(plan, unit)
    chalk, chalk_triangles = bands(strokes, halo=False)
    smudge, smudge_triangles = bands(strokes, halo=True)
    depth_mm = as_came(np.where(judged, found.depth.depth_mm, np.nan), row, np.nan).astype(np.float32)
    return {
        "depth_mm": depth_mm,
        "colour": map_colours(depth_mm, key, panel.vertex_normals[row]),
        "steady_mm": as_came(np.where(judged, found.steady.depth_mm, np.nan), row, np.nan).astype(np.float32),
        "area": as_came(found.areas.label.astype(np.float64), row, 0.0).astype(np.int32),
        "fill_vertices": (vertices + panel.origin) / mm_per_unit,
        "fill_triangles": triangles,
        "fill_area": area,
        **packed(map_lines(plan, key), panel.origin, mm_per_unit),
        "chalk_vertices": (chalk + panel.origin) / mm_per_unit,
        "chalk_triangles": chalk_triangles,
        "smudge_vertices": (smudge + panel.origin) / mm_per_unit,
        "smudge_triangles": smudge_triangles,
    }


def _fill(plan: Plan) -> tuple[Floats, Ints, Ints]:
    """All lows' shells as one mesh, and for each triangle the place of its area, from 1."""
    found = plan.survey
    summed = found.areas.hemmed[found.sheets.parent]
    vertices, triangles, areas, count = [np.empty((0, 3))], [np.empty((0, 3), dtype=np.int64)], [], 0
    for place, area in enumerate(found.areas.found, start=1):
        if area.kind == "low":
            shell = fill_mesh(found.sheets, summed == place)
            vertices.append(shell.vertices)
            triangles.append(shell.triangles + count)
            areas += [np.full(len(shell.triangles), place)]
            count += len(shell.vertices)
    return np.concatenate(vertices), np.concatenate(triangles), np.concatenate(areas or [np.empty(0, dtype=np.int64)])
