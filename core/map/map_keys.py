"""The maps beside the plan's own, by the kind of request that makes them: what they say, and in which steps of colour.

- good_side: how far the body's two sides lie apart, positive where this side lies lower than the other one;
- as_was: how thick the old filler was that lay on the panel;
- line_up: how uncertain the line-up leaves the depth, one standard deviation.

The first two have the plan's own steps; the last has finer ones.
"""

from __future__ import annotations

import math

from ..legend.legend import CHALK, INCH_MM, LOW, SHADE, Legend, Step, legend, length_words
from ..legend.legend_section import CutWords

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
    return Legend(tuple(steps), edges[0], None, unit, kind, even_mm=edges[1])


def map_words(kind: str) -> CutWords:
    """What the cut of a map of ``kind`` says beside its numbers."""
    return {
        "good_side": CutWords("this side is higher", "this side is lower", "alike"),
        "as_was": CutWords("metal above the old skin", "old filler", "bare"),
        "line_up": CutWords("", "better 2 times in 3", ""),
    }[kind]
