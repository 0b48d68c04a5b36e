"""Test the Scanner: two scans of one panel, lined up and compared, give its error."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..errors import InputError
from ..progress import Progress, within
from .part import Array, Part

if TYPE_CHECKING:
    from .result import Result

_LEAST_MM = 1e-4  # no scanner errs by less
_REACH_MM = 20.0


@dataclass(frozen=True, eq=False)
class Request:
    """Scans ``a`` and ``b`` of one panel; ``landmarks`` (k, 2, 3) mm: matching points on the two, where there are."""

    a: Part
    b: Part
    landmarks: Array | None = None


def run(request: Request, progress: Progress) -> Result:
    """The scanner's error and how far it agrees with itself, ``scan_error_mm`` and ``scan_error_length_mm``."""
    from ..place.fit import Target
    from ..place.onto import onto
    from ..place.scanner_error import error_left
    from ..surface.nearest import Tree
    from .joined import landmarks_of, mended
    from .result import Result

    a, b = mended(request.a), mended(request.b)
    tree = Tree(b.surface)
    placed = onto(a.surface, b.surface, tree, landmarks_of(request.landmarks), progress=within(progress, 0.1, 0.9))
    found = error_left(placed.panel, Target(b.surface, tree, _REACH_MM), placed.fit)
    if found.error_mm < _LEAST_MM:
        raise InputError("the two scans are the same, point for point; scan the panel twice, from the start")
    record = {"a": a.record(), "b": b.record(), "scan_error_mm": found.error_mm,
              "scan_error_length_mm": found.length_mm, "settings": found.settings(), "warnings": list(placed.warnings)}
    return Result(record)
