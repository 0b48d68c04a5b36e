"""The maps beside the plan's own, by the kind of request that makes them: what they say, and in which steps of colour.

- good_side: how far the body's two sides lie apart, positive where this side lies lower than the other one;
- as_was: how thick the old filler was that lay on the panel;
- line_up: how uncertain the line-up leaves the depth, one standard deviation.

The first two have the plan's own steps; the last has finer ones.
"""

from __future__ import annotations

import math

from ..legend.legend import CHALK, INCH_MM, LOW, SHADE, Legend, Step, legend, length_words
from ..legend.step_card import CardWords

MAPS = ("good_side", "as_was", "line_up")
TITLES = {"good_side": "Sides Apart", "as_was": "Old Filler", "line_up": "Line-Up Uncertainty"}
FINE_MM: dict[str, tuple[float, ...]] = {
    "mm": (0.002, 0.005, 0.01, 0.02, 0.05, 0.1),
    "inch": tuple(INCH_MM * part for part in (0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005)),
}


def map_key(kind: str, true_mm: float, unit: str) -> Legend:
    """The steps of a map of ``kind``; ``true_mm``: within which the two sides are alike, or nothing was laid.

    >>> [step.high_mm for step in map_key("line_up", 0.25, "mm").steps][:3]
    [0.002, 0.005, 0.01]
    >>> map_key("good_side", 0.25, "mm") == legend(0.25)
    True
    """
    if kind != "line_up":
        return legend(true_mm, None, unit)
    edges = FINE_MM[unit]
    steps = [Step(0.0, edges[0], CHALK, f"Within {length_words(edges[0], unit)}", "true")]
    for low, high, colour in zip(edges, (*edges[1:], math.inf), LOW, strict=True):
        steps.append(Step(low, high, colour, f"Over {length_words(low, unit)}", "low"))
    steps.append(Step(math.inf, math.inf, SHADE, "Not measured", "not_judged"))
    return Legend(tuple(steps), edges[0], None, unit, kind)


def map_words(kind: str) -> CardWords:
    """What the card of a map of ``kind`` says beside its numbers."""
    above, below = {
        "good_side": ("this side is higher", "this side is lower: pushed in"),
        "as_was": ("metal above the old skin", "old filler on the metal"),
        "line_up": ("", "two times in three better"),
    }[kind]
    return CardWords(TITLES[kind], above, below)
