"""A plan as a record: what plan.json and areas.csv hold."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any

import numpy as np

from ..bench.area_work import AreaWork
from ..bench.highs import high_work, highs_work
from ..bench.raised_first import Raised
from ..depth.depth import Reason
from ..files.source import Source
from ..planning.plan import Plan, Scan
from .laying_words import quantity_record
from .line_up_record import line_up_record

FORMAT, VERSION = "fillwright.plan", 1
AREA_COLUMNS = (
    "number", "kind", "area_mm2", "length_mm", "width_mm", "perimeter_mm", "volume_mm3", "volume_u95_mm3",
    "depth_max_mm", "deepest_point_mm", "minimum_overbuild_mm", "margin_area_mm2", "laid_volume_mm3",
    "laid_volume_steadier_mm3", "laid_volume_unsteadier_mm3", "to_lay_mm", "passes", "reaches_rim",
    "too_deep_area_mm2", "raised_fill_mm3", "raised_laid_volume_mm3", "raised_to_lay_mm", "raised_passes", "beside",
    "work",
)
_ONE_SIDED = 0.3  # of its area that a sheet shows to one side


def plan_record(plan: Plan, panel: Source, target: Source) -> dict[str, Any]:
    """The plan as plain numbers, lists and texts, for JSON. Keys carry their units; depth is positive below.

    ``area_mm2``: by denoised depth, within and beyond the true tolerance. ``depth_mm``: ``max`` and
    ``high_max`` are denoised and of any judged metal, in an area or not (``max_at_mm``, ``high_max_at_mm`` say where),
    ``p95`` (of positive depth) and ``rms`` are of the judged points as scanned.
    """
    totals = plan.totals
    inside = plan.survey.inside
    return {
        "format": FORMAT,
        "version": VERSION,
        "settings": plan.settings.as_dict(),
        "panel": {**_mesh(plan.panel, panel), "outward": _outward(plan.panel)},
        "target": _mesh(plan.target, target),
        **_points(plan),
        "noise": {
            "sigma_mm": plan.survey.noise.sigma_mm,
            "correlation_mm": plan.survey.noise.length_mm,
            "source": plan.survey.noise.source,
        },
        "enclosed": {"fill_mm3": float(inside.fill_mm3.sum()), "cut_mm3": float(inside.cut_mm3.sum())},
        "fill_volume_mm3": totals.fill_mm3,
        "fill_volume_u95_mm3": totals.fill_u95_mm3,
        "cut_volume_mm3": totals.cut_mm3,
        "cut_volume_u95_mm3": totals.cut_u95_mm3,
        "overbuild": {
            "minimum_mm": totals.minimum_overbuild_mm,
            "risk_each": plan.settings.risk,
            "risk_job": totals.risk_job,
            "laid_volume_mm3": totals.laid_mm3,
        },
        "material": {
            "name": plan.material.name,
            "title": plan.material.title,
            "density_g_cm3": plan.material.density_g_cm3,
            "pass_mm": plan.material.pass_mm,
            "greatest_depth_mm": plan.material.greatest_depth_mm,
            "kind": plan.material.kind,
            "contraction": plan.material.contraction,
            **quantity_record(plan.quantity),
        },
        "raised": None if plan.raised is None else _raised(plan.raised),
        "line_up": None if plan.line_up is None else line_up_record(plan.line_up),
        "highs_work": highs_work(plan.settings.surface, bool(plan.laid)),
        "lows_before": [low.as_dict() for low in plan.before],
        "areas": _areas(plan),
        "accounts": {side: asdict(getattr(plan.survey.accounts, side)) for side in ("fill", "cut")},
        "cautions": [
            {"moment": one.name, "title": one.title, "sentences": list(one.sentences)} for one in plan.cautions
        ],
        "warnings": list(plan.warnings),
    }


def _mesh(scan: Scan, source: Source) -> dict[str, Any]:
    condition = scan.condition
    return {
        "file": source.file,
        "sha256": source.sha256,
        "unit": source.unit,
        "unit_note": source.unit_note,
        "vertices": condition.vertices,
        "triangles": condition.triangles,
        "area_mm2": condition.area_mm2,
        "condition": {**condition.as_dict(), "turned": list(scan.turned)},
    }


def _outward(scan: Scan) -> list[float] | None:
    """Where the panel's outside looks to on the whole, (3,); None of a body that has no such side."""
    areas = scan.surface.area_vectors
    whole = areas.sum(axis=0)
    length = float(np.linalg.norm(whole))
    return (whole / length).tolist() if length > _ONE_SIDED * float(np.linalg.norm(areas, axis=1).sum()) else None


def _points(plan: Plan) -> dict[str, Any]:
    found, area = plan.survey, plan.panel.surface.vertex_areas
    reason, planned = found.depth.reason, found.planned
    judged = planned & found.depth.judged
    depth, steady, true = found.depth.depth_mm[judged], found.steady.depth_mm[judged], plan.settings.true_mm
    low, high = steady > true, steady < -true
    total = float(area[planned].sum())
    at = plan.panel.surface.vertices[judged] + plan.panel.surface.origin
    return {
        "points": {
            "judged": int(judged.sum()),
            "not_judged": {
                "past_edge": int((planned & (reason == Reason.PAST_EDGE)).sum()),
                "too_far": int((planned & (reason == Reason.TOO_FAR)).sum()),
                "faces_away": int((planned & (reason == Reason.FACES_AWAY)).sum()),
            },
            "outside_work_area": int((~planned).sum()),
        },
        "judged_share": float(area[judged].sum()) / total,
        "not_judged_mm2": {why.name.lower(): float(area[planned & (reason == why)].sum()) for why in Reason if why},
        "outside_work_area_mm2": float(area[~planned].sum()),
        "area_mm2": {
            "low": float(area[judged][low].sum()),
            "high": float(area[judged][high].sum()),
            "true": float(area[judged][~low & ~high].sum()),
            "not_judged": total - float(area[judged].sum()),
        },
        "depth_mm": {
            "max": max(0.0, float(steady.max())),
            "max_at_mm": at[steady.argmax()].tolist(),
            "p95": float(np.percentile(np.maximum(depth, 0.0), 95)),
            "rms": float(np.sqrt(np.mean(depth * depth))),
            "high_max": max(0.0, -float(steady.min())),
            "high_max_at_mm": at[steady.argmin()].tolist(),
        },
    }


def _areas(plan: Plan) -> list[dict[str, Any]]:
    """Each area's figures, and what is done with it in words."""
    doubted, surface = {one.place for one in plan.laid}, plan.settings.surface
    return [
        {**_area(work), "work": "fill" if work.area.kind == "low" else high_work(surface, place in doubted)}
        for place, work in enumerate(plan.works, start=1)
    ]


def _raised(raised: Raised) -> dict[str, Any]:
    return {
        "limit_mm": raised.limit_mm,
        "fill_volume_mm3": raised.fill_mm3,
        "laid_volume_mm3": raised.laid_mm3,
        **quantity_record(raised.quantity),
    }


def _area(work: AreaWork) -> dict[str, Any]:
    """One area. What is ``raised`` is the same as what is not where no metal is too deep for the material."""
    area, lying, raised = work.area, work.as_it_lies, work.recommended
    return {
        "number": area.number,
        "kind": area.kind,
        "area_mm2": area.area_mm2,
        "length_mm": work.length_mm,
        "width_mm": work.width_mm,
        "perimeter_mm": area.perimeter_mm,
        "volume_mm3": area.volume_mm3,
        "volume_u95_mm3": area.volume_u95_mm3,
        "depth_max_mm": area.depth_max_mm,
        "deepest_point_mm": list(area.deepest_point_mm),
        "minimum_overbuild_mm": work.minimum_overbuild_mm,
        "margin_area_mm2": work.margin_area_mm2,
        "laid_volume_mm3": lying.laid_mm3,
        "laid_volume_steadier_mm3": lying.steadier_mm3,
        "laid_volume_unsteadier_mm3": lying.unsteadier_mm3,
        "to_lay_mm": lying.thickest_mm,
        "passes": lying.passes,
        "reaches_rim": area.reaches_rim,
        "too_deep_area_mm2": work.too_deep_area_mm2,
        "raised_fill_mm3": raised.fill_mm3,
        "raised_laid_volume_mm3": raised.laid_mm3,
        "raised_to_lay_mm": raised.thickest_mm,
        "raised_passes": raised.passes,
        "beside": ", ".join(work.beside),
    }


def areas_csv(plan: Plan) -> str:
    """The areas as comma-separated lines under a heading, one an area."""
    rows = _areas(plan)
    for row in rows:
        row["deepest_point_mm"] = " ".join(f"{v:.3f}" for v in row["deepest_point_mm"])
    text = io.StringIO()
    writer = csv.DictWriter(text, AREA_COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
