"""As It Was: a scan made before stripping becomes the finished shape, its paint taken off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..progress import Progress, report_progress
from .limits import check_mm
from .part import Array, Part

if TYPE_CHECKING:
    from .result import Result

@dataclass(frozen=True, eq=False)
class Request:
    """``panel``: the bare metal, in the frame of the ``old`` scan; ``bad`` (k,): spots of the old scan to be carried
    through, with the lines across them where ``lines``; ``paint_mm``: the paint that was on it."""

    old: Part
    panel: Part
    paint_mm: float = 0.2  # 0.1 to 0.3 on sound old panels: common practice, no source
    bad: Array | None = None
    lines: bool = True

    def __post_init__(self) -> None:
        check_mm(self.paint_mm, "paint_mm", "paint", 0.0, 10.0)


def run(request: Request, progress: Progress) -> Result:
    """The shape, and as a map of the panel the old filler: old skin less bare metal less paint."""
    import numpy as np

    from ..depth.shape_trust import together
    from ..shape.shapes import as_it_was
    from ..surface.nearest import Tree
    from .carry_through import carried_record
    from .joined import as_came, facing, mended
    from .result import Result, number

    old, panel = mended(request.old), mended(request.panel)
    bare, notes = facing(panel, old, Tree(old.surface))
    report_progress(progress, 0.3, "Taking the paint off")
    found = as_it_was(old.surface, bare, request.paint_mm, old.marked(request.bad), with_lines=request.lines)
    thick = found.filler_mm[np.isfinite(found.filler_mm)]
    record = {
        "old": old.record(), "stripped": panel.record(), "paint_mm": request.paint_mm,
        "old_filler_mm": {"max": number(thick.max()), "p95": number(np.percentile(thick, 95))},
        "carried": None if found.carried is None else carried_record(found.carried),
        "warnings": [*notes, *found.warnings],
    }
    assert bare.row_of_input is not None  # mend keeps it
    came = as_came(found.filler_mm, bare.row_of_input, np.nan)
    return Result(record, request.old.mm_per_unit, found.surface, together(found.trust, old.trust), {}, came, bare,
                  found.filler_mm)
