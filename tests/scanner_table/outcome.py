"""What the plan of one scan tells of a panel whose lows are known."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from core.bench.area_work import AreaWork
from core.bench.materials import pick
from core.fill.overbuild import Hand
from core.planning.plan import Lining, Plan, make_plan
from core.settings import Settings
from core.surface.surface import Floats, Surface
from tests.core.shapes import noise_field

from .panel import CENTRES_MM, LAID, LOWS, TYPICAL, Low, Scan, Scanner, scan, shape

_CLOSE_MM = 5.0  # a line-up may leave the panel that far off along itself
_LAID_STEP_MM, LAYINGS = 2.0, 25


@dataclass(frozen=True)
class Outcome:
    """Of each of the lows whether it was ``found``; how many other areas were ``invented``; ``map_mm``: what 95 of 100
    points of sound metal are read right within; of the `TYPICAL` low the volume and its 95 %; of the low to be `LAID`
    the overbuild as planned and what each of several layings by the map would have needed; 0 and none where not found.
    """

    found: tuple[bool, ...]
    invented: int
    map_mm: float
    volume_mm3: float = 0.0
    give_or_take_mm3: float = 0.0
    overbuild_mm: float = 0.0
    needed_mm: tuple[float, ...] = ()


def outcome(scanner: Scanner, seed: int, lows: tuple[Low, ...] = LOWS) -> Outcome:
    """Scan the panel, line the scan up from five clicks and plan it with the usual settings."""
    made = scan(scanner, seed, lows)
    plan = make_plan(made.panel, _shape(), Settings(), pick(Settings.material), lining=Lining(made.clicks))
    places = [_low_at(work, scanner, lows) for work in plan.works]
    off = _on_grid(plan, plan.survey.steady.depth_mm, made) - made.true_mm
    judged = _on_grid(plan, plan.survey.depth.judged, made) & (made.true_mm == 0)
    found = tuple(k in places for k in range(len(lows)))
    seen = found, places.count(None), _rounded(float(np.quantile(np.abs(off[judged]), 0.95)))
    return Outcome(*seen, *_volume(plan, places, lows), *_overbuild(plan, places, lows, made, off, seed))


def _volume(plan: Plan, places: list[int | None], lows: tuple[Low, ...]) -> tuple[float, float]:
    if lows.index(TYPICAL) not in places:
        return 0.0, 0.0
    area = plan.works[places.index(lows.index(TYPICAL))].area
    return _rounded(area.volume_mm3), _rounded(area.volume_u95_mm3)


def _overbuild(
    plan: Plan, places: list[int | None], lows: tuple[Low, ...], made: Scan, off: Floats, seed: int
) -> tuple[float, tuple[float, ...]]:
    k = lows.index(LAID)
    if k not in places:
        return 0.0, ()
    place = places.index(k)
    inside = _on_grid(plan, plan.survey.areas.label == place + 1, made)
    needed = _needed_mm(made, k, off, inside, np.random.default_rng([seed, 1]))
    return _rounded(plan.works[place].minimum_overbuild_mm), needed


@cache
def _shape() -> Surface:
    return shape()


def _rounded(value: float) -> float:
    return float(f"{value:.5g}")


def _low_at(work: AreaWork, scanner: Scanner, lows: tuple[Low, ...]) -> int | None:
    """Which of the lows an area is: the one that its deepest place lies in."""
    away = np.hypot(*(CENTRES_MM[: len(lows)] - np.array(work.area.deepest_point_mm[:2])).T)
    k = int(np.argmin(away))
    within = lows[k].width_mm / 2 + max(scanner.step_mm, _CLOSE_MM)
    return k if work.area.kind == "low" and away[k] <= within else None


def _on_grid(plan: Plan, values: Floats, made: Scan) -> Floats:
    """Values (n,) at the plan's points in the order of the scan's grid."""
    return values[plan.panel.surface.row_of_input].reshape(made.x.shape)


def _needed_mm(made: Scan, k: int, off: Floats, inside: Floats, rng: np.random.Generator) -> tuple[float, ...]:
    """The least overbuild that would have left no low spot in the low ``k``, for each of several layings.

    Laid as thick as the map says, overbuild and all, the work stands over the shape by the overbuild, by what the map
    is wrong by, and by the waviness of the hand, the usual one.
    """
    hand = Hand()
    half = LAID.width_mm  # twice its own: an area may reach past the low
    line = np.arange(-half, half + 1e-9, _LAID_STEP_MM)
    at = np.stack(np.meshgrid(*(centre + line for centre in CENTRES_MM[k]), indexing="ij"), axis=-1)
    wrong, within = (
        RegularGridInterpolator((made.x[:, 0], made.y[0]), values, bounds_error=False, fill_value=0.0)(at)
        for values in (off, inside.astype(np.float64))
    )
    size = (len(line), len(line))
    waves = (noise_field(size, _LAID_STEP_MM, hand.lay_correlation_mm, hand.lay_sigma_mm, rng) for _ in range(LAYINGS))
    lowest = [float(-(wave + wrong)[within >= 0.5].min()) for wave in waves]
    return tuple(round(low - hand.surfacer_mm + hand.clean_up_mm, 2) for low in lowest)
