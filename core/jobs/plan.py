"""Plan the Fill: the main job."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..progress import Progress
from ..settings import Settings
from .part import Array, LiningUp, Part

if TYPE_CHECKING:
    from .plan_result import PlanResult


@dataclass(frozen=True, eq=False)
class Request:
    """``settings`` with the material's name, which is of the user's file ``materials`` or built in; ``work_area`` (k,):
    what of the panel is planned, None for all; ``lining_up``: None where it lies on the target already, and then
    ``placing``: how well, as a line-up's record has it, or None for the settings' one figure; ``before``: the record of
    a plan of this job from before anything was laid; ``notes``: sentences to warn of; ``unit`` "mm" or "inch" of what
    is drawn for the eye."""

    panel: Part
    target: Part
    settings: Settings
    materials: str | None = None
    work_area: Array | None = None
    lining_up: LiningUp | None = None
    placing: dict[str, Any] | None = None
    before: dict[str, Any] | None = None
    notes: tuple[str, ...] = ()
    unit: str = "mm"


def run(request: Request, progress: Progress) -> PlanResult:
    """The plan."""
    from ..bench.materials import pick
    from ..depth.laid import known_lows
    from ..planning.plan import make_plan
    from .joined import joined, trust_of
    from .plan_result import PlanResult, lining_of, placing_given

    settings = request.settings
    material = pick(settings.material, None if request.materials is None else Path(request.materials))
    before = () if request.before is None else known_lows(request.before)
    panel, target = joined(request.panel), joined(request.target)
    plan = make_plan(
        panel, target, settings, material, request.work_area, progress, lining_of(request.lining_up),
        placing_given(request.placing), before, trust_of(request.target), request.notes,
    )
    return PlanResult.of(plan, request.panel, request.target, request.unit)
