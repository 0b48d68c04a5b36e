"""Carry Through: the sound metal around the damage continued through it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ..progress import Progress, within
from .part import Array, Part

if TYPE_CHECKING:
    from ..shape.carry_through import Carried
    from .result import Result


@dataclass(frozen=True, eq=False)
class Request:
    """``mask`` (k,): the panel's damaged vertices; ``creases``: lines (j, 3) mm in its frame, each to be continued;
    ``lines``: whether swages and creases that cross the damage are continued unasked."""

    panel: Part
    mask: Array
    creases: tuple[Array, ...] = ()
    lines: bool = True


def run(request: Request, progress: Progress) -> Result:
    """The panel with its damage carried through."""
    from ..depth.shape_trust import together
    from ..shape.carry_through import carry_through
    from .joined import mended
    from .result import Result

    panel = mended(request.panel)
    mask = panel.marked(request.mask)
    assert mask is not None
    creases = tuple(line - panel.surface.origin for line in request.creases)
    found = carry_through(panel.surface, mask, creases, within(progress, 0.1, 1.0), request.lines)
    record = {"panel": panel.record(), **carried_record(found)}
    return Result(record, request.panel.mm_per_unit, found.surface, together(found.trust, panel.trust))


def carried_record(found: Carried) -> dict[str, Any]:
    """A carried-through shape for JSON."""
    from ..map.place_numbers import place_numbers
    from .result import number

    shape = found.surface
    numbers = place_numbers(shape, found.middles) if len(found.middles) > 1 else []
    return {
        "places": len(found.degrees), "degrees": list(found.degrees), "trust_mm_95": number(found.trust_mm),
        "moved_mm": {"up": float(found.moved_mm.max()), "down": float(-found.moved_mm.min())},
        "lines_mm": [(line + shape.origin).tolist() for line in found.lines],
        "places_at_mm": (found.middles + shape.origin).tolist(),
        "numbers_mm": [(line + shape.origin).tolist() for line in numbers],
        "warnings": list(found.warnings),
    }
