"""Line Up: a scan brought into the finished shape's frame, by its sound metal."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ..progress import Progress, within
from .limits import check_mm
from .part import LiningUp, Part

if TYPE_CHECKING:
    from .result import Result


@dataclass(frozen=True, eq=False)
class Request:
    """``finish_mm``: paint on the finished shape, if it was scanned painted and the panel is bare."""

    panel: Part
    target: Part
    lining_up: LiningUp = field(default_factory=LiningUp)
    finish_mm: float = 0.0

    def __post_init__(self) -> None:
        check_mm(self.finish_mm, "finish_mm", "paint on the finished shape", -10.0, 10.0)


def run(request: Request, progress: Progress) -> Result:
    """The panel where it belongs, and as a map of it how uncertain the line-up leaves its depth.

    The record's ``matrix`` (4, 4) takes the panel's frame into the shape's, both in mm; ``placing`` says how well.
    """
    import numpy as np

    from ..place.onto import onto
    from ..report.line_up_record import line_up_record, placing_record
    from ..report.made_shape import LINED_UP
    from ..surface.nearest import Tree
    from .joined import as_came, landmarks_of, mended
    from .result import Result

    panel, target, asked = mended(request.panel), mended(request.target), request.lining_up
    found = onto(
        panel.surface, target.surface, Tree(target.surface), landmarks_of(asked.landmarks),
        panel.set_aside(asked.aside), asked.locating, request.finish_mm, within(progress, 0.1, 1.0),
    )
    held, row = found.fit.held_mm, found.panel.row_of_input
    assert row is not None  # mend keeps it
    record = {"panel": panel.record(), "target": target.record(), "finish_mm": request.finish_mm,
              **line_up_record(found), "placing": placing_record(found.fit.covariance.placing, target.surface.origin)}
    trust = None if panel.came is None else panel.came.moved(found.panel)
    return Result(record, request.target.mm_per_unit, found.panel, trust, {LINED_UP: held},
                  as_came(held, row, np.nan))
