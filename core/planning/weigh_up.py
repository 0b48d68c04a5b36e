"""Weigh Up: several finished shapes against one panel, side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from ..bench.materials import Material
from ..depth.placing import Placing
from ..depth.shape_trust import ShapeTrust
from ..progress import Progress, silent
from ..settings import Settings
from ..surface.surface import Mask, Surface
from ..surface.thin import thin
from ..surface.weld import welded
from .plan import Lining, Plan, make_plan

ROUGH_TRIANGLES = 150_000


@dataclass(frozen=True)
class Weighed:
    """One shape's totals: volumes in mm3, areas in mm2, masses in g; ``judged_share``: of the area that
    is planned;
    ``rough``: worked out on thinned meshes; ``warnings``: of its plan."""

    name: str
    fill_mm3: float
    fill_u95_mm3: float
    high_mm3: float
    deepest_mm: float
    finished_mass_g: float
    laid_mass_g: float
    packs: int
    pack_word: str
    too_deep_mm2: float
    new_metal_mm2: float
    judged_share: float
    rough: bool
    warnings: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """By name, for JSON and tables."""
        return {**asdict(self), "warnings": list(self.warnings)}


def weigh_up(
    panel: Surface, shapes: Mapping[str, Surface], settings: Settings, material: Material, rough: bool = False,
    progress: Progress = silent, work_area: Mask | None = None, lining: Lining | None = None,
    placing: Placing | None = None, trusts: Mapping[str, ShapeTrust | None] | None = None,
    notes: tuple[str, ...] = (),
) -> tuple[Weighed, ...]:
    """The totals of each of ``shapes`` for ``panel``, as read, in mm, in their order: those of `make_plan`, to which
    ``work_area`` (k,), ``lining``, ``placing``, ``notes`` and of ``trusts`` that of the shape's name go as they are.

    ``rough``: on meshes thinned to `ROUGH_TRIANGLES`, for a quick look while a shape is being changed.
    """
    prepared = _thinned(panel) if rough else panel
    found = []
    for k, (name, shape) in enumerate(shapes.items()):

        def part(share: float, step: str, k: int = k, name: str = name) -> object:
            return progress((k + share) / len(shapes), f"{name}: {step}")

        plan = make_plan(prepared, _thinned(shape) if rough else shape, settings, material, work_area, part,
                         lining, placing, trust=(trusts or {}).get(name), notes=notes)
        found.append(_weighed(name, plan, rough))
    return tuple(found)


def _thinned(surface: Surface) -> Surface:
    return thin(welded(surface), ROUGH_TRIANGLES)


def _weighed(name: str, plan: Plan, rough: bool) -> Weighed:
    lows = [work for work in plan.works if work.area.kind == "low"]
    found, areas = plan.survey, plan.panel.surface.vertex_areas
    inside = found.areas.label > 0
    judged = found.depth.judged & found.planned
    return Weighed(
        name, plan.totals.fill_mm3, plan.totals.fill_u95_mm3, plan.totals.cut_mm3,
        max((work.area.depth_max_mm for work in lows), default=0.0),
        plan.quantity.finished_mass_g, plan.quantity.laid_mass_g, plan.quantity.packs, plan.quantity.pack_word,
        sum(work.too_deep_area_mm2 for work in lows),
        float(areas[inside & (found.steady.depth_mm > plan.settings.new_metal_mm)].sum()),
        float(areas[judged].sum() / areas[found.planned].sum()), rough, plan.warnings,
    )
