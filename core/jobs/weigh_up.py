"""Weigh Up: several finished shapes against one panel, side by side."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..progress import Progress
from ..settings import Settings
from .part import Array, LiningUp, Part

if TYPE_CHECKING:
    from .result import Result


@dataclass(frozen=True, eq=False)
class Request:
    """``shapes`` by name, in the order that they are weighed in; ``rough``: on thinned meshes, for a quick look; the
    rest as a plan has it."""

    panel: Part
    shapes: dict[str, Part]
    settings: Settings
    materials: str | None = None
    work_area: Array | None = None
    lining_up: LiningUp | None = None
    placing: dict[str, Any] | None = None
    notes: tuple[str, ...] = ()
    rough: bool = False


def run(request: Request, progress: Progress) -> Result:
    """The totals of each shape's plan."""
    from ..bench.materials import pick
    from ..planning.weigh_up import weigh_up
    from .joined import joined, trust_of
    from .plan_result import lining_of, placing_given
    from .result import Result

    settings = request.settings
    material = pick(settings.material, None if request.materials is None else Path(request.materials))
    rows = weigh_up(
        joined(request.panel), {name: joined(part) for name, part in request.shapes.items()}, settings, material,
        request.rough, progress, request.work_area, lining_of(request.lining_up), placing_given(request.placing),
        {name: trust_of(part) for name, part in request.shapes.items()}, request.notes,
    )
    record = {
        "material": material.name, "settings": settings.as_dict(), "rough": request.rough,
        "shapes": [row.as_dict() for row in rows],
        "warnings": [f"{row.name}: {text}" for row in rows for text in row.warnings],
    }
    return Result(record, request.panel.mm_per_unit)
