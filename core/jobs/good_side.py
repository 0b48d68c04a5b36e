"""From the Good Side: the body mirrored, so that its good side is the finished shape of its bad one."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..errors import WrongValue
from ..place.locate_by import Locating
from ..progress import Progress, within
from .part import Array, Part

if TYPE_CHECKING:
    from ..surface.surface import Floats, Surface
    from .result import Result

_HUNG = "two panels seldom hang alike: line the bad one up with this shape before it is planned"


@dataclass(frozen=True, eq=False)
class Request:
    """``body``: the whole part, or the good panel where ``partner``, the other side's, is given in the same frame;
    ``plane`` (3, 3) mm: three points near the plane; ``good`` (3,) mm: a point on the good side of a whole body;
    ``locating``: what holds one side along the other; ``aside`` (k,): vertices of the body that take no part."""

    body: Part
    partner: Part | None = None
    plane: Array | None = None
    good: Array | None = None
    locating: Locating = field(default_factory=Locating)
    aside: Array | None = None

    def __post_init__(self) -> None:
        if self.good is not None and self.partner is not None:
            raise WrongValue("good", "it is for one whole body; of two panels the first is the good one")


def run(request: Request, progress: Progress) -> Result:
    """The mirrored body, and as a map of the body how far its sides lie apart."""
    import numpy as np

    from ..place.symmetry import find_symmetry, plane_through
    from ..shape.good_side import good_side
    from ..shape.sides_trust import trust_of_image
    from .joined import mended
    from .result import Result, number

    body = mended(request.body)
    aside, origin = body.set_aside(request.aside), body.surface.origin
    partner = None if request.partner is None else mended(request.partner).surface.about(origin)
    start = None if request.plane is None else plane_through(request.plane - origin)
    found = find_symmetry(body.surface, start, partner, aside, request.locating, within(progress, 0.1, 1.0))
    plane, side, warnings = found.plane, None, found.warnings
    if partner is None:
        good = None if request.good is None else request.good - origin
        half = good_side(body.surface, found, good, aside)
        shape, side, warnings = half.surface, half.side, (*warnings, *half.warnings)
    else:  # a good panel is mirrored whole
        shape, warnings = plane.surface(body.surface), (*warnings, _HUNG)
    record = {
        "body": body.record(),
        "plane": {"normal": plane.normal.tolist(), "offset_mm": plane.offset_mm + float(plane.normal @ origin)},
        "good_side": side,
        "off_mm_95": number(found.off_mm),
        "uncertainty_mm": number(np.sqrt(np.nanmean(found.held_mm**2))),
        "sound_share": found.fit.share,
        "warnings": list(warnings),
    }
    return Result(record, request.body.mm_per_unit, shape, trust_of_image(body.surface, found, shape, body.trust),
                  {"apart_mm": _kept(found.apart_mm, shape)}, body.as_came(found.apart_mm))


def _kept(values: Floats, shape: Surface) -> Floats:
    """Values of the body's vertices for those that are left in ``shape``."""
    import numpy as np

    row = shape.row_of_input
    if row is None:
        return values
    kept = np.full(len(shape.vertices), np.nan)
    kept[row[row >= 0]] = values[row >= 0]
    return kept
