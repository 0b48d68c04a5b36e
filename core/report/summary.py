"""A plan in a few lines of text, in shop units."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from ..bench.area_work import AreaWork
from ..bench.highs import highs_work
from ..depth.depth import Reason
from ..files.source import Source
from ..legend import shop_units as shop
from ..planning.plan import Plan
from . import laying_words as words
from .laying_words import quantity_record

_HEADING = f"{'':8}{'deepest':>10}{'area':>11}{'volume':>13}{'give or take':>14}{'overbuild':>11}"


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
    kind = plan.material.kind
    heading = f"{_HEADING}{'to lay':>9}" + ("layers" if kind == "solder" else "passes").rjust(9)
    return [heading, *(row for work in plan.works for row in _rows(work, kind, plan.material.greatest_depth_mm))]


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
    beyond = f"; {too_far_mm2 / 100:.0f} cm² of it further off than is looked, see below"
    return [f"Not measured    {areas[unknown].sum() / 100:.0f} cm² of the panel, and not counted"
            f"{beyond if too_far_mm2 >= 50 else ''}"]


def _no_area(plan: Plan) -> str:
    found, true = plan.survey, plan.settings.true_mm
    off = found.planned & found.depth.judged & (np.abs(found.steady.depth_mm) > true)
    off_mm2 = float(plan.panel.surface.vertex_areas[off].sum())
    if off_mm2 < plan.settings.least_area_mm2:
        return f"No area to work on: the panel is true within {true:g} mm where it was measured."
    return (f"No area to work on was found, but {off_mm2 / 100:.0f} cm² are more than {true:g} mm off: "
            "this scan can't tell damage from its own noise there.")


def _rows(work: AreaWork, kind: str, limit_mm: float) -> list[str]:
    """An area as it lies and, where it is too deep for the material, raised first."""
    area = work.area
    first = f"{area.name:8}{area.depth_max_mm:7.1f} mm"
    if area.kind == "high":
        beside = f"  on the edge of {', '.join(work.beside)}: {words.ONE_DAMAGE}" if work.beside else ""
        return [f"{first}{work.length_mm:14.0f} x {work.width_mm:4.0f} mm{beside}"]
    rows = [(first, work.as_it_lies, f"{area.volume_u95_mm3 / 1000:10.1f} cm³")]
    if work.raised is not None:
        rows.append((f"{'  raised':8}{limit_mm:7.1f} mm", work.raised, " " * 14))
    return [
        f"{start}{area.area_mm2 / 100:7.0f} cm²{one.fill_mm3 / 1000:9.1f} cm³{u95}{work.minimum_overbuild_mm:8.1f} mm"
        f"{one.thickest_mm:6.1f} mm{words.layers(one.passes, kind).rpartition(' ')[0]:>9}" for start, one, u95 in rows
    ]


def _totals(plan: Plan) -> list[str]:
    totals = plan.totals
    lines = [f"Fill            {totals.fill_mm3 / 1000:.1f} cm³, give or take {totals.fill_u95_mm3 / 1000:.1f} cm³"]
    highs = [work.area.depth_max_mm for work in plan.works if work.area.kind == "high"]
    if highs:
        todo = highs_work(plan.settings.surface, bool(plan.laid))
        lines.append(f"Highs           up to {max(highs):.1f} mm, {todo}")
    if totals.fill_mm3:
        lines += [
            f"Overbuild       lay at least {totals.minimum_overbuild_mm:.1f} mm proud, to file; "
            f"{shop.jobs(totals.risk_job)} still shows a low spot ({totals.risk_job:.0%})",
            *_needs(plan),
            f"Safety          {plan.cautions[0].sentences[0]} What to mind, and when, is in plan.json",
        ]
    return lines


def _needs(plan: Plan) -> list[str]:
    """What to lay and buy as the metal lies and, where it is too deep for the material, raised first."""
    title, reserve, raised = plan.material.title, plan.settings.reserve_share, plan.raised
    if raised is None:
        return _need("Material", title, quantity_record(plan.quantity), reserve)
    volume = f"recommended: {raised.fill_mm3 / 1000:.1f} cm³, no deeper than {raised.limit_mm:g} mm, {words.LIMIT}"
    return [
        *_need("As it lies", f"{title}, deeper than it may be laid", quantity_record(plan.quantity), reserve),
        *_need("Raised first", volume, quantity_record(raised.quantity), reserve),
    ]


def _need(name: str, title: str, need: dict[str, Any], reserve_share: float) -> list[str]:
    share, hint = words.filed_off(need)
    todo, metal, taken = words.to_prepare(need, "mm")
    rest = [
        title,
        f"{need['finished_mass_g']:.0f} g finished, {need['laid_mass_g']:.0f} g laid "
        f"({words.to_lay(need, 'mm')} from a steadier to an unsteadier hand)",
        f"{words.to_buy(need, 'mm')} to buy, with {reserve_share:.0%} in reserve; {todo.lower()} {metal}"
        f"{', ' if taken else ''}{taken}",
        f"{share} is filed off again{'; ' if hint else ''}{hint}",
    ]
    return [f"{name if k == 0 else '':16}{text}" for k, text in enumerate(rest)]
