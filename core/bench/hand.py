"""How evenly people lay, and how well kinds of scanner see: figures to start from where nobody has measured."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class Kind:
    """One choice on a list: its ``title`` and what it means in mm. Every figure is the user's to replace."""

    title: str
    figures: dict[str, float]

    @property
    def text(self) -> str:
        """The figures in words, for a tooltip."""
        return ", ".join(f"{name.removesuffix('_mm').replace('_', ' ')} {v:g} mm ({v / 25.4:.2g} in)"
                         for name, v in self.figures.items())


# Standard deviation of a laid surface, mm. Common practice, no source.
HANDS = {
    "NEW": Kind("New", {"lay_sigma_mm": 0.5}),
    "STEADY": Kind("Steady", {"lay_sigma_mm": 0.3}),
    "OLD": Kind("Old Hand", {"lay_sigma_mm": 0.2}),
}

# Error over a palm's width, mm, the geometric middle of the usual range. From memory.
TESTED = "TESTED"  # its figures are the user's own
SCANNERS = {
    "MEASURED": Kind("Measured", {}),
    TESTED: Kind("Tested Here", {}),
    "PHONE_DEPTH": Kind("Phone Depth Sensor", {"scan_error_mm": 4.0, "scan_error_length_mm": 20.0}),
    "PHONE_PHOTOS": Kind("Phone Photographs", {"scan_error_mm": 1.0, "scan_error_length_mm": 15.0}),
    "HOBBY_LIGHT": Kind("Hobby Structured Light", {"scan_error_mm": 0.15, "scan_error_length_mm": 10.0}),
    "WORKSHOP_LASER": Kind("Workshop Laser", {"scan_error_mm": 0.05, "scan_error_length_mm": 10.0}),
}


def nearest(kinds: dict[str, Kind], figure: str, value: float) -> str:
    """The key of the kind whose ``figure`` comes nearest to ``value``, by ratio.

    >>> nearest(HANDS, "lay_sigma_mm", 0.21), nearest(SCANNERS, "scan_error_mm", 0.3)
    ('OLD', 'HOBBY_LIGHT')
    """
    known = {key: kind.figures[figure] for key, kind in kinds.items() if figure in kind.figures}
    return min(known, key=lambda key: abs(math.log(known[key] / max(value, 1e-9))))
