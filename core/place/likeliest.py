"""Which of several ways to lay a surface on another is the right one: by the surfaces, else by their rims."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..surface.rim_lines import RimLines
from .fit import Target
from .motion import Motion

SURE = 3.0  # the next best way must be so many times further off
_RIMS_MEET_MM = 5.0  # rims further apart than this on the mean, as a scan's that was cut short, tell nothing
_LEAST_RIM_MM = 0.2


def likeliest(
    off_mm: list[float], rims_apart_mm: Callable[[int], float], tells_mm: float = 0.1
) -> tuple[int, float]:
    """Which of several tries is right, and how many times further off the next best is.

    ``off_mm``: how far most of the panel stays from the shape in each. Where that can't tell some of them apart, how
    far the rims then lie apart is asked of these. ``tells_mm``: what is off by less is as good as not off at all.

    >>> likeliest([0.1, 1.0], lambda k: 0.0)
    (0, 10.0)
    >>> likeliest([0.1, 0.11, 1.0], lambda k: [4.0, 0.5, 0.1][k])
    (1, 8.0)
    >>> likeliest([0.1], lambda k: 0.0)
    (0, inf)
    """
    order = sorted(range(len(off_mm)), key=lambda k: off_mm[k])
    near = [k for k in order if off_mm[k] < SURE * max(off_mm[order[0]], tells_mm)]
    sureness = off_mm[order[1]] / max(off_mm[order[0]], tells_mm) if len(order) > 1 else float("inf")
    if len(near) == 1:
        return order[0], sureness
    apart = sorted((rims_apart_mm(k), k) for k in near)
    told = apart[1][0] / max(apart[0][0], _LEAST_RIM_MM)
    if told >= SURE and apart[0][0] <= _RIMS_MEET_MM:
        return apart[0][1], told
    return order[0], sureness


def rims_apart(lines: RimLines, target: Target, motion: Motion) -> float:
    """How far a panel's rims and holes lie from the shape's, on the mean by length, each point at most its reach, mm.

    As far as that reach where either has none.
    """
    if len(lines.points) == 0:
        return target.reach_mm
    distance = target.rims.tree.nearest(motion.of(lines.points)).distance_mm
    return float(lines.stands_mm @ np.minimum(distance, target.reach_mm) / lines.stands_mm.sum())
