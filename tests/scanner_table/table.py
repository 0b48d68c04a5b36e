"""README's table: what can still be told with a scanner, from the outcomes of its scans."""

from __future__ import annotations

from textwrap import fill

import numpy as np

from core.settings import Settings

from .outcome import Outcome
from .panel import DEPTHS_MM, LAID, LOWS, PALM_MM, TYPICAL, WIDTHS_MM, Low, Scanner
from .scanners import SEEDS, Outcomes

MOST_MISSED = 1  # of the scans: "at least 19 of 20"
_WIDE = 124  # as README is written
_COLUMNS = (
    "noise", "points apart", f"shallowest low, {PALM_MM:.0f} mm wide", f"smallest low, {TYPICAL.depth_mm:.0f} mm deep",
    f"give or take on {TYPICAL.volume_mm3 / 1000:.1f} cm³", "map right within",
    f"{Settings.true_mm:g} mm told", "overbuild planned / needed",
)


def table(outcomes: Outcomes) -> str:
    """The table in Markdown, with a closing line on what it rests on."""
    rows = [[_noise(scanner), f"{scanner.step_mm:g} mm", *_told(each)] for scanner, each in outcomes.items()]
    ruler = ["---", "--:", *["--:"] * 4, "---", "--:"]
    lines = ["| " + " | ".join(cells) + " |" for cells in (_COLUMNS, ruler, *rows)]
    return "\n".join([*lines, "", fill(_closing(outcomes), _WIDE)])


def _noise(scanner: Scanner) -> str:
    kind = {0.0: ", white", 1.0: f", smooth over {scanner.length_mm:.0f} mm"}.get(scanner.smooth, "")
    return f"{scanner.noise_mm:g} mm{kind}"


def _told(each: list[Outcome]) -> list[str]:
    within = sorted(one.map_mm for one in each)[-1 - MOST_MISSED]
    return [
        _least(each, [(depth, Low(depth, PALM_MM)) for depth in DEPTHS_MM]),
        _least(each, [(width, Low(TYPICAL.depth_mm, width)) for width in WIDTHS_MM]),
        _give_or_take(each), f"{within:.{2 if within < 1 else 1}f} mm", "yes" if within <= Settings.true_mm else "no",
        _overbuild(each),
    ]


def found(each: list[Outcome], low: Low) -> bool:
    """Whether ``low`` was found in all scans but one."""
    return sum(one.found[LOWS.index(low)] for one in each) >= len(each) - MOST_MISSED


def _least(each: list[Outcome], sizes: list[tuple[float, Low]]) -> str:
    """The least size from which on every low was found."""
    missed = [size for size, low in sizes if not found(each, low)]
    least = min((size for size, _ in sizes if size > max(missed, default=0.0)), default=None)
    return f"none to {sizes[-1][0]:g} mm" if least is None else f"{least:g} mm"


def _give_or_take(each: list[Outcome]) -> str:
    if not found(each, TYPICAL):
        return "not found"
    return f"{np.mean([one.give_or_take_mm3 for one in each if one.give_or_take_mm3]) / 1000:.1f} cm³"


def _overbuild(each: list[Outcome]) -> str:
    """As planned, and what 19 of 20 layings by the map would have needed."""
    if not found(each, LAID):
        return "not found"
    planned = np.mean([one.overbuild_mm for one in each if one.needed_mm])
    needed = np.quantile([laid for one in each for laid in one.needed_mm], 1 - Settings.risk)
    return f"{planned:.1f} / {needed:.1f} mm"


def _closing(outcomes: Outcomes) -> str:
    scans = [one for each in outcomes.values() for one in each]
    measured = [one for each in outcomes.values() if found(each, TYPICAL) for one in each if one.give_or_take_mm3]
    held = sum(abs(one.volume_mm3 - TYPICAL.volume_mm3) <= one.give_or_take_mm3 for one in measured)
    invented = sum(one.invented > 0 for one in scans)
    none = "none" if invented == 0 else str(invented)
    return (
        f"Of {len(scans)} scans, {SEEDS} a row, {none} showed a low or a high that is not there; where the "
        f"{TYPICAL.volume_mm3 / 1000:.1f} cm³ were found, they lay within the give or take in {held} of "
        f"{len(measured)}."
    )
