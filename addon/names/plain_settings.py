"""The settings that are a number in the sidebar, by core's own names, in the order of the panel More."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Plain:
    """How one is shown: its ``title``, so many ``digits`` after the point, and what it means, for the tooltip."""

    title: str
    digits: int
    words: str


PLAIN = {
    "bump_spacing_mm": Plain(
        "Bumps Apart (mm)", 0, "From one bump of what you laid to the next, in millimetres"),
    "risk": Plain(
        "Risk", 3, "Chance you accept of a low spot left in an area after filing, 0.05 is one in twenty"),
    "reserve_share": Plain(
        "Reserve", 2, "How much more to buy than you need, so that nobody goes back for it: 0.25 is a quarter"),
    "true_mm": Plain(
        "True Within (mm)", 2, "How far from the finished shape still counts as right, in millimetres"),
    "reach_mm": Plain(
        "How Far to Look", 1, "Deepest that is looked; beyond it metal is not measured, in millimetres"),
    "line_up_uncertainty_mm": Plain(
        "Line-Up (mm)", 2, "How far the scan may lie off the finished shape on the whole, in millimetres"),
}
