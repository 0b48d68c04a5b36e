"""Find the Damage: what of a panel is bent otherwise than the metal around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..errors import InputError
from ..progress import Progress, within
from .part import Part

if TYPE_CHECKING:
    from .result import Result


@dataclass(frozen=True, eq=False)
class Request:
    """The ``panel`` that is looked at."""

    panel: Part


def run(request: Request, progress: Progress) -> Result:
    """As a map, 1 where the panel looks damaged; an InputError where nothing of it does."""
    import numpy as np

    from ..shape.suggest import suggested_damage
    from .joined import mended
    from .result import Result

    panel = mended(request.panel)
    marks = suggested_damage(panel.surface, within(progress, 0.1, 1.0))
    if not marks.any():
        raise InputError(f"{request.panel.name}: no damage stands out from its curvature; mark the damage by hand")
    record = {"panel": panel.record(), "area_mm2": float(panel.surface.vertex_areas[marks].sum()), "warnings": []}
    return Result(record, request.panel.mm_per_unit, map_mm=panel.as_came(marks.astype(np.float64)))
