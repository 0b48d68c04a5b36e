"""A swage, style line or crease across a damaged place: a profile that stays the same along itself."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import BSpline
from scipy.ndimage import gaussian_filter1d
from scipy.stats import siegelslopes

from ..surface.surface import Floats, Mask

_CUBIC = 3
_STIFF = 1e-6  # of the profile, against noise; by trial of 1e-6 to 1e-4: softer than it need be for a tight radius
_SLIGHT = 1e-9
_LOOK_MM, _SPREAD_MM = 1.0, 4.0
_BENT = 0.3  # of its greatest bend: where the profile is bent by more is the line


@dataclass(frozen=True, eq=False)
class Line:
    """A line across the plane of a place: ``turn`` (radians) is its direction at the middle, ``bend`` (1/mm) its
    curvature there, all its parts running along circles about one centre; its profile is ``spans`` pieces between
    ``low`` and ``high`` mm across it, and goes on straight beyond them."""

    turn: float
    bend: float
    low: float = 0.0
    high: float = 0.0
    spans: int = 1

    @property
    def _ways(self) -> tuple[Floats, Floats]:
        """Along the line at the middle, and across it to the left."""
        along = np.array([np.cos(self.turn), np.sin(self.turn)])
        return along, np.array([-along[1], along[0]])

    def across(self, uv: Floats) -> Floats:
        """Signed distance (n,) mm from the circle through the middle."""
        aside, square = uv @ self._ways[1], (uv**2).sum(axis=1)
        root = np.sqrt(np.maximum(1 - 2 * self.bend * aside + self.bend**2 * square, 0.0))
        across: Floats = (2 * aside - self.bend * square) / (1 + root)
        return across

    def along(self, uv: Floats) -> Floats:
        """How far along the line from the middle, (n,) mm, to first order."""
        along: Floats = uv @ self._ways[0]
        return along

    def points(self, across_mm: float, along_mm: Floats) -> Floats:
        """Places (n, 2) mm at one distance across, ``along_mm`` (n,) along the circle through the middle."""
        along, aside = self._ways
        if abs(self.bend) < 1e-9:
            return across_mm * aside + along_mm[:, None] * along
        turned = (along_mm * self.bend)[:, None]
        radius = 1 / self.bend
        points: Floats = radius * aside + (radius - across_mm) * (np.sin(turned) * along - np.cos(turned) * aside)
        return points

    def spanning(self, uv: Floats, step_mm: float, most: int) -> Line:
        """The same line with its profile as wide as the places ``uv`` (n, 2), in at most so many pieces."""
        across = self.across(uv)
        spans = int(np.clip(np.ptp(across) / step_mm, _CUBIC + 1, most))
        return replace(self, low=float(across.min()), high=float(across.max()), spans=spans)

    @property
    def _grid(self) -> Floats:
        step = (self.high - self.low) / self.spans
        return self.low + step * np.arange(-_CUBIC, self.spans + _CUBIC + 1)

    def terms(self, uv: Floats, _size_mm: float) -> Floats:
        """Cubic B-splines of the distance across, (n, t)."""
        grid, across = self._grid, self.across(uv)
        ends = grid[[_CUBIC, -1 - _CUBIC]]
        within = np.clip(across, *ends)
        terms: Floats = BSpline.design_matrix(within, grid, _CUBIC).toarray()
        beyond = across != within
        if beyond.any():
            slopes = BSpline(grid, np.eye(self.spans + _CUBIC), _CUBIC).derivative()(ends)
            terms[beyond] += (across - within)[beyond, None] * slopes[(across[beyond] > ends[1]).astype(int)]
        return terms

    def stiffness(self) -> Floats:
        """The profile's second differences are held small (P-splines: Eilers & Marx 1996, from memory), (t, t); and it
        itself slightly, for a slope across the line may as well be the panel's."""
        second = np.diff(np.eye(self.spans + _CUBIC), 2, axis=0)
        stiff: Floats = _STIFF * second.T @ second + _SLIGHT * np.eye(second.shape[1])
        return stiff

    def band(self, profile: Floats, inside: Floats) -> Band:
        """Where a ``profile`` (t,) of its terms is bent, as far as it crosses the place ``inside`` (k, 2)."""
        own = self.across(inside)
        low, high = max(own.min() - 3 * _SPREAD_MM, self.low), min(own.max() + 3 * _SPREAD_MM, self.high)
        across = np.linspace(low, high, int((high - low) / _LOOK_MM) + 3)
        height = BSpline(self._grid, profile, _CUBIC)(across)
        # Spread out first: its noise bends more than it does.
        spread = _SPREAD_MM / (across[1] - across[0])
        ends = int(3 * spread)  # the filter's own
        across, bend = across[ends:-ends], gaussian_filter1d(height, spread, order=2)[ends:-ends]
        # What bends evenly all over may as well be the panel's: the profile takes of it what it likes.
        even = siegelslopes(bend, across)
        bend = np.abs(bend - even.intercept - even.slope * across)
        bent = across[bend > _BENT * bend.max()]
        return Band(self, float(bent.min()), float(bent.max()))


@dataclass(frozen=True)
class Band:
    """Where a line's profile is bent: from ``low`` to ``high`` mm across it."""

    line: Line
    low: float
    high: float

    def holds(self, uv: Floats) -> Mask:
        """Which places (n, 2) lie in it, (n,)."""
        across = self.line.across(uv)
        return (across >= self.low) & (across <= self.high)
