"""Metal Level: the finished shape set in by the filler's thickness."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..errors import WrongValue
from ..progress import Progress, report_progress
from .part import Part

if TYPE_CHECKING:
    from .result import Result

_MOST_MM = 20.0


@dataclass(frozen=True, eq=False)
class Request:
    """``filler_mm``: the thickness of filler that is to lie on the metal."""

    target: Part
    filler_mm: float

    def __post_init__(self) -> None:
        if not 0 < self.filler_mm <= _MOST_MM:
            wanted = f"more than 0 and up to {_MOST_MM:g} mm is wanted"
            raise WrongValue("filler_mm", f"filler: {self.filler_mm:g} mm came; {wanted}")


def run(request: Request, progress: Progress) -> Result:
    """The shape that the metal should reach first."""
    from ..shape.shapes import metal_level
    from .joined import mended
    from .result import Result

    target = mended(request.target)
    report_progress(progress, 0.5, "Setting it in")
    level = metal_level(target.surface, request.filler_mm)
    record = {"target": target.record(), "filler_mm": request.filler_mm, "warnings": list(level.warnings)}
    return Result(record, request.target.mm_per_unit, level.surface, target.trust)
