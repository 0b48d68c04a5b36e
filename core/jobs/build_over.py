"""Build Over: the finished shape moved out until no high stands proud any more."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ..progress import Progress, within
from ..settings import Settings
from .limits import check_mm
from .part import Part

if TYPE_CHECKING:
    from .result import Result


@dataclass(frozen=True, eq=False)
class Request:
    """``skin_mm``: filler over the highest metal; ``material``, of the user's file ``materials`` or built in."""

    panel: Part
    target: Part
    skin_mm: float = 0.0
    material: str = Settings.material
    materials: str | None = None

    def __post_init__(self) -> None:
        check_mm(self.skin_mm, "skin_mm", "filler over the highest metal", 0.0, 20.0)


def run(request: Request, progress: Progress) -> Result:
    """The shape moved out by the least that does, and what fills it."""
    from ..bench.materials import pick
    from ..planning.warn import coverage
    from ..shape.shapes import MOVES, build_over
    from ..surface.nearest import Tree
    from .joined import facing, mended
    from .result import Result

    material = pick(request.material, None if request.materials is None else Path(request.materials))
    panel, target = mended(request.panel), mended(request.target)
    tree = Tree(target.surface)
    here, notes = facing(panel, target, tree)
    built = build_over(here, target.surface, tree, request.skin_mm, within(progress, 0.1, 1.0), target.trust)
    record = {
        "panel": panel.record(), "target": target.record(), "highest_mm": built.highest_mm, "skin_mm": request.skin_mm,
        "offset_mm": built.offset_mm, "fill_mm3": built.fill_mm3, "still_proud": len(built.proud_mm),
        "not_judged_mm2": built.not_judged_mm2, "material": material.name, "material_title": material.title,
        "finished_mass_g": built.fill_mm3 / 1000 * material.density_g_cm3,
        "warnings": [MOVES, *notes, *coverage(here, built.survey), *built.warnings],
    }
    return Result(record, request.target.mm_per_unit, built.surface, target.trust)
