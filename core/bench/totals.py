"""Sums over all areas of a plan: what is to fill and to cut, how sure that is, and the risk of the whole job."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.areas import shared_mm3
from ..depth.placing import Placing
from ..depth.shifts import shared_shifts_mm2
from ..depth.survey import Survey
from ..fill.job_risk import Standing, risk_of_shared_job
from ..fill.overbuild import Hand
from ..surface.surface import Surface
from .area_work import AreaWork


@dataclass(frozen=True)
class Totals:
    """Sums over the areas. Volumes in mm3 with their 95 % uncertainty; overbuild in mm; risks as shares."""

    fill_mm3: float
    fill_u95_mm3: float
    cut_mm3: float
    cut_u95_mm3: float
    minimum_overbuild_mm: float
    risk_job: float
    laid_mm3: float


def totals_of(panel: Surface, works: tuple[AreaWork, ...], found: Survey, hand: Hand) -> Totals:
    """The totals of ``works`` on the areas ``found``, filled by ``hand``."""
    lows = [work for work in works if work.area.kind == "low"]
    highs = [work for work in works if work.area.kind == "high"]
    return Totals(
        sum(work.area.volume_mm3 for work in lows), _u95(panel, lows, found),
        sum(work.area.volume_mm3 for work in highs), _u95(panel, highs, found),
        max((work.minimum_overbuild_mm for work in lows), default=0.0),
        _risk_of_job(panel, lows, found, hand), sum(work.laid_volume_mm3 for work in lows),
    )


def _risk_of_job(panel: Surface, lows: list[AreaWork], found: Survey, hand: Hand) -> float:
    laid = [
        Standing(work.minimum_overbuild_mm - hand.clean_up_mm, work.area.area_mm2, work.area.perimeter_mm)
        for work in lows
    ]
    return risk_of_shared_job(laid, hand, shared_shifts_mm2(panel, found.areas, _believed(found)))


def _believed(found: Survey) -> Placing | None:
    """What the line-up says of its own uncertainty, unless sound metal lies further off than that."""
    return found.placing if found.offset_mm == 0.0 else None


def _u95(panel: Surface, works: list[AreaWork], found: Survey) -> float:
    """95 % uncertainty of a sum of volumes, mm3: noise adds in squares, what the areas share adds up."""
    noise = np.sqrt(sum(work.area.noise_mm3**2 for work in works))
    places = [place for place, work in enumerate(found.areas.found, start=1) if any(w.area is work for w in works)]
    offset = sum(work.area.line_up_mm3 for work in works)
    shape = np.linalg.norm(found.areas.levers_mm3[[place - 1 for place in places]].sum(axis=0))
    placing = _believed(found)
    if placing is not None:  # a panel that is tilted lies low here and high there
        offset = shared_mm3(panel, np.isin(found.areas.hemmed, places), placing)
    return found.noise.factor_95 * float(np.sqrt(noise**2 + offset**2 + shape**2))
