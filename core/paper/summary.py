"""A plan in a few lines of text, in shop units."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..bench.area_work import AreaWork
from ..bench.highs import highs_work
from ..depth.depth import Reason
from ..plan import Plan
from . import shop_units as shop
from .plan_record import Source

_HEADING = f"{'':8}{'deepest':>10}{'area':>11}{'volume':>13}{'give or take':>14}{'overbuild':>11}{'passes':>8}"


def summary(plan: Plan, panel: Source, target: Source, paths: list[Path]) -> str:
    """The units, a short table of areas and totals, the warnings, and the files made."""
    return "\n".join([
        f"Panel           {panel.file}: {panel.unit_note.removeprefix('panel: ')}",
        f"Finished shape  {target.file}: {target.unit_note.removeprefix('target: ')}",
        f"Paint           {_paint(plan.settings.finish_mm)}",
        *_not_judged(plan), "", *_table(plan), "", *_totals(plan), *(f"! {text}" for text in plan.warnings),
        "", "Made " + ", ".join(str(path) for path in paths),
    ])


def _table(plan: Plan) -> list[str]:
    if not plan.works:
        return [_no_area(plan)]
    return [_HEADING, *(_row(work) for work in plan.works)]


def _paint(finish_mm: float) -> str:
    if finish_mm == 0:
        return "none on the finished shape; if it was scanned painted, say so with --finish-mm"
    moved = "set in by" if finish_mm > 0 else "set out by"
    return f"finished shape {moved} {abs(finish_mm):g} mm"


def _not_judged(plan: Plan) -> list[str]:
    found = plan.survey
    unknown = found.planned & ~found.depth.judged
    if not unknown.any():
        return []
    areas = plan.panel.surface.vertex_areas
    too_far_mm2 = float(areas[unknown & (found.depth.reason == Reason.TOO_FAR)].sum())
    beyond = f"; {too_far_mm2 / 100:.0f} cm2 of it beyond the reach: rough it out first, then scan again"
    return [f"Not measured    {areas[unknown].sum() / 100:.0f} cm2 of the panel, and not counted"
            f"{beyond if too_far_mm2 >= 50 else ''}"]


def _no_area(plan: Plan) -> str:
    found, true = plan.survey, plan.settings.true_mm
    off = found.planned & found.depth.judged & (np.abs(found.steady.depth_mm) > true)
    off_mm2 = float(plan.panel.surface.vertex_areas[off].sum())
    if off_mm2 < plan.settings.least_area_mm2:
        return f"No area to work on: the panel is true within {true:g} mm where it was measured."
    return (f"No area to work on was found, but {off_mm2 / 100:.0f} cm2 are more than {true:g} mm off: "
            "this scan can't tell damage from its own noise there.")


def _row(work: AreaWork) -> str:
    area = work.area
    row = (f"{area.name:8}{area.depth_max_mm:7.1f} mm{area.area_mm2 / 100:7.0f} cm2{area.volume_mm3 / 1000:9.1f} cm3"
           f"{area.volume_u95_mm3 / 1000:10.1f} cm3")
    return row + (f"{work.minimum_overbuild_mm:8.1f} mm{work.passes:8}" if area.kind == "low" else "")


def _totals(plan: Plan) -> list[str]:
    totals, q = plan.totals, plan.quantity
    lines = [f"Fill            {totals.fill_mm3 / 1000:.1f} cm3, give or take {totals.fill_u95_mm3 / 1000:.1f} cm3"]
    if totals.cut_mm3:
        work = highs_work(plan.settings.surface, bool(plan.laid))
        lines.append(f"Highs           {totals.cut_mm3 / 1000:.1f} cm3, {work}")
    if totals.fill_mm3:
        lines += [
            f"Overbuild       lay at least {totals.minimum_overbuild_mm:.1f} mm proud, to file; "
            f"{shop.jobs(totals.risk_job)} still shows a low spot ({totals.risk_job:.0%})",
            f"Material        {plan.material.title}: {q.finished_mass_g:.0f} g finished, {q.laid_mass_g:.0f} g laid, "
            f"{q.packs} {q.pack_word}{'' if q.packs == 1 else 's'} to buy",
            f"Safety          {plan.cautions[0].sentences[0]} What to mind, and when, is in plan.json",
        ]
    return lines
