"""A thin plate hung over sound metal: smoothness alone beyond a low polynomial, as a sprung batten would lie.

Beside the polynomials it is the plain fill: it knows no more of the metal than what lies next to the damage, and so
can't run wild far from it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import RBFInterpolator

from ..surface.surface import Floats
from .patch import Patch, fit_patch

_KNOTS = 500  # more tell it nothing: it is smooth between them
_SMOOTH = 1e-2  # against noise; by trial of 0 to 0.1, which differ little
_STIFFER = 1  # degree by which the base is raised to see what the plate doubts


@dataclass(frozen=True, eq=False)
class Plate:
    """A plate over a polynomial ``base``; ``degree`` and ``foretold_mm`` are the base's; ``stiffer``: over the next."""

    base: Patch
    spring: Callable[[Floats], Floats]
    size_mm: float
    stiffer: Plate | None = None

    @property
    def degree(self) -> int:
        """Of the polynomial that it lies over."""
        return self.base.degree

    @property
    def foretold_mm(self) -> float:
        """Root mean square error of the base on metal that it was not shown, mm."""
        return self.base.foretold_mm

    def height(self, uv: Floats) -> Floats:
        """Height at ``uv`` (n, 2) mm in the plane, (n,) mm."""
        height: Floats = self.base.height(uv) + self.spring(uv / self.size_mm)
        return height

    def doubt_mm(self, uv: Floats) -> float:
        """What it may be off at ``uv`` (n, 2) mm: as `Patch.doubt_mm`, by the plate over the next degree."""
        if self.stiffer is None:
            return self.foretold_mm
        apart = np.abs(self.height(uv) - self.stiffer.height(uv))
        return float(np.hypot(self.foretold_mm, np.percentile(apart, 95)))


def fit_plate(uv: Floats, height_mm: Floats, area_mm2: Floats, degree: int, with_doubt: bool = True) -> Plate:
    """The plate over the polynomial of ``degree`` through metal at ``uv`` (n, 2), which is believed all of it.

    Metal is gathered into about 500 cells first, each with its mean: that takes out most of the noise.
    """
    base, _ = fit_patch(uv, height_mm, area_mm2, (), degree, degree)
    size = float(np.abs(uv).max())
    knots, rest = _gathered(uv, height_mm - base.height(uv), area_mm2)
    spring = RBFInterpolator(knots / size, rest, kernel="thin_plate_spline", smoothing=_SMOOTH, degree=1)
    stiffer = fit_plate(uv, height_mm, area_mm2, degree + _STIFFER, False) if with_doubt else None
    return Plate(base, spring, size, stiffer)


def _gathered(uv: Floats, values: Floats, area_mm2: Floats) -> tuple[Floats, Floats]:
    """Means over even cells, about 500 of them, weighted by area: places (k, 2) and values (k,)."""
    cell = np.sqrt(area_mm2.sum() / _KNOTS)
    _, part = np.unique(np.floor(uv / cell).astype(np.int64), axis=0, return_inverse=True)
    part = part.ravel()
    weight = np.bincount(part, area_mm2)
    means = [np.bincount(part, area_mm2 * column) / weight for column in (*uv.T, values)]
    return np.stack(means[:2], axis=1), means[2]
