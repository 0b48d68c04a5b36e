"""How far a scanner can be trusted: two scans of one panel, lined up and compared."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..progress import Progress, silent
from ..surface.surface import Surface
from .fit import Start, Target
from .line_up import LineUp, line_up


@dataclass(frozen=True, eq=False)
class Trust:
    """A scanner's own error: ``error_mm``, agreeing with itself over ``length_mm`` (0: white); ``fit``: the line-up."""

    error_mm: float
    length_mm: float
    fit: LineUp

    def settings(self) -> str:
        """The figures as lines for a settings file."""
        return f"scan_error_mm = {self.error_mm:.4f}\nscan_error_length_mm = {self.length_mm:.2f}\n"


def trust(one: Surface, other: Target, start: Start, progress: Progress = silent) -> Trust:
    """The error of a scanner from scan ``one`` against the ``other`` of the same panel in the same state.

    Both scans err alike and apart, so either's error is the difference's over the square root of two.
    """
    fit = line_up(one, other, start, progress=progress)
    return Trust(fit.noise.sigma_mm / float(np.sqrt(2)), fit.noise.length_mm, fit)
