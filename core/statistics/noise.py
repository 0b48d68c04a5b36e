"""A scan's noise: its size, how far it agrees with itself, and what that makes uncertain.

Scanner noise is smooth, not white: neighbouring points are wrong together, so a mean over an area is
far less certain than the count of its points suggests. The model is a white part, independent from
vertex to vertex, and a smooth part with covariance exp(-d^2 / 2 l^2).

Both come from the spread of block means on sound metal, block size by block size (the dispersion
variance of geostatistics: Krige 1951, from memory). It measures what volumes need, the noise that
is left after averaging over an area, where a variogram would have to extrapolate to it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.special as special

from ..surface.surface import Floats, Ints, Mask

MEASURED = "measured on sound metal"
_LEAST_BLOCKS = 24  # fewer give no spread worth the name
_LENGTHS_MM = np.geomspace(1.0, 60.0, 60)


@dataclass(frozen=True)
class Noise:
    """Noise of depth: standard deviations in mm of the white and of the smooth part.

    ``length_mm``: l of the smooth part's covariance exp(-d^2 / 2 l^2); ``cell_mm2``: area that one vertex
    stands for; ``freedom``: how many independent pieces the figures rest on (infinite where stated);
    ``source``: where they come from, in words.
    """

    white_mm: float
    smooth_mm: float
    length_mm: float
    cell_mm2: float
    freedom: float
    source: str

    @property
    def sigma_mm(self) -> float:
        """Standard deviation of a single point, mm."""
        return float(np.hypot(self.white_mm, self.smooth_mm))

    @property
    def factor_95(self) -> float:
        """What a standard uncertainty is multiplied by for 95 %: Student's t (GUM, JCGM 100 G.3)."""
        return 1.959964 if np.isinf(self.freedom) else float(special.stdtrit(self.freedom, 0.975))

    def of_volume(self, area_mm2: float) -> float:
        """Standard uncertainty of the signed volume over ``area_mm2``, mm3, from noise alone.

        For a disc of that area, which bounds it from above: any other shape has less of itself near.

        >>> white = Noise(0.1, 0.0, 0.0, 4.0, np.inf, "stated")  # FACTS of the trade: 200 cm2, 28 mm3
        >>> round(white.of_volume(20_000.0), 1)
        28.3
        """
        smooth = self.smooth_mm**2 * _covered(area_mm2, self.length_mm) if self.length_mm > 0 else 0.0
        return float(np.sqrt(self.white_mm**2 * self.cell_mm2 * area_mm2 + smooth))

    @property
    def of_area_mm4(self) -> float:
        """Variance of a large area's mean, times the area."""
        return self.white_mm**2 * self.cell_mm2 + self.smooth_mm**2 * 2 * np.pi * self.length_mm**2

    def of_strip(self, length_mm: Floats, width_mm: float) -> Floats:
        """Standard uncertainty of the mean depth over strips ``length_mm`` (k,) long and ``width_mm`` wide, mm."""
        white = self.white_mm**2 * self.cell_mm2 / (length_mm * width_mm)
        smooth = self.smooth_mm**2 * _mean_of_line(length_mm, self.length_mm) * _mean_of_line(
            np.asarray(width_mm), self.length_mm
        )
        uncertainty: Floats = np.sqrt(np.minimum(white, self.white_mm**2) + smooth)
        return uncertainty

    def smoothed_mm(self, bandwidth_mm: float) -> float:
        """Standard deviation left of a point after Gaussian smoothing of ``bandwidth_mm``, mm."""
        if bandwidth_mm <= 0:
            return self.sigma_mm
        white = self.white_mm**2 * min(1.0, self.cell_mm2 / (4 * np.pi * bandwidth_mm**2))
        smooth = self.smooth_mm**2 * self.length_mm**2 / (self.length_mm**2 + 2 * bandwidth_mm**2)
        return float(np.sqrt(white + smooth))


def stated(sigma_mm: float, length_mm: float, cell_mm2: float, source: str = "stated") -> Noise:
    """Noise that the user states: all of it smooth over ``length_mm``, or all white where that is 0."""
    white, smooth = (0.0, sigma_mm) if length_mm > 0 else (sigma_mm, 0.0)
    return Noise(white, smooth, length_mm, cell_mm2, np.inf, source)


def measured(
    points: Floats, depth_mm: Floats, areas_mm2: Floats, sound: Mask, robust: bool, widest_mm: float = np.inf
) -> Noise | None:
    """Noise of ``depth_mm`` (n,) at ``points`` (n, 3) mm where ``sound``, or None where there is too little of it.

    ``areas_mm2`` (n,): what each point stands for. ``robust``: go by the median, since damage may be among
    the blocks still. ``widest_mm``: of a block; wider ones say nothing where slow changes were taken away.
    """
    rows = np.flatnonzero(sound)
    if len(rows) < 4 * _LEAST_BLOCKS:
        return None
    flat, depth, area = _flattened(points[rows]), depth_mm[rows], areas_mm2[rows]
    cell = float(area @ area / area.sum())
    blocks = [_block_spread(flat, depth, area, size, robust) for size in _sizes(flat, cell) if size <= widest_mm]
    blocks = [b for b in blocks if b.count >= _LEAST_BLOCKS]
    if len(blocks) < 2:
        return None
    white, smooth, length = _fit(blocks, cell)
    freedom = float(min(b.count for b in blocks) - 1)
    return Noise(white, smooth, length if smooth > 0 else 0.0, cell, freedom, MEASURED)


@dataclass(frozen=True)
class _Blocks:
    """Spread (variance, mm2) of the means of ``count`` blocks of ``size_mm``, and their points' mean share 1/k."""

    size_mm: float
    variance: float
    white_share: float
    count: int


def _flattened(points: Floats) -> Floats:
    """Points (2, n) mm in the plane that the panel mostly lies in, from 0 up both ways."""
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    flat: Floats = np.ascontiguousarray((centred @ axes[:, 1:]).T)
    flat -= flat.min(axis=1)[:, None]
    return flat


def _sizes(flat: Floats, cell_mm2: float) -> Floats:
    """Block sizes, mm: from single vertices up to where too few blocks fit."""
    low, high = np.sqrt(cell_mm2), np.sqrt(np.prod(flat.max(axis=1)) / (2 * _LEAST_BLOCKS))
    return np.concatenate([[0.0], np.geomspace(2 * low, high, 10)]) if high > 2 * low else np.zeros(1)


def _block_spread(flat: Floats, depth: Floats, area: Floats, size_mm: float, robust: bool) -> _Blocks:
    if size_mm == 0:  # blocks of one vertex each
        return _Blocks(0.0, _variance(depth, robust), 1.0, len(depth))
    block = _block_of(flat, size_mm)
    total = np.bincount(block, area)
    full = total > 0.5 * total.max()
    total = np.where(total > 0, total, 1.0)
    mean = np.bincount(block, area * depth) / total
    share = np.bincount(block, area * area) / total**2
    return _Blocks(size_mm, _variance(mean[full], robust), float(share[full].mean()), int(full.sum()))


def _block_of(flat: Floats, size_mm: float) -> Ints:
    along, across = (flat / size_mm).astype(np.int64)
    block: Ints = along * (across.max() + 1) + across
    return block


def _variance(values: Floats, robust: bool) -> float:
    if not robust:
        return float(values.var(ddof=1))
    return float((1.482602 * np.median(np.abs(values - np.median(values)))) ** 2)


def _fit(blocks: list[_Blocks], cell_mm2: float) -> tuple[float, float, float]:
    """White and smooth standard deviations and the smooth length, mm, that explain the blocks' spreads best.

    Each spread is known to about sqrt(2 / blocks) of itself, so the fit is to relative errors.
    """
    seen = np.array([b.variance for b in blocks])
    if seen.max() < 1e-12:
        return 0.0, 0.0, 0.0
    seen = np.maximum(seen, 1e-9 * seen.max())
    weight = np.sqrt([min(b.count, 2000) / 2.0 for b in blocks]) / seen
    white = np.array([b.white_share for b in blocks])
    size = np.array([b.size_mm for b in blocks])
    best = (np.inf, 0.0, 0.0, 0.0)
    for length in _LENGTHS_MM:
        columns = np.stack([white, _mean_of_line(size, length) ** 2], axis=1)
        part, misfit = _not_negative(columns * weight[:, None], seen * weight)
        best = min(best, (misfit, float(np.sqrt(part[0])), float(np.sqrt(part[1])), float(length)))
    return best[1:]


def _not_negative(columns: Floats, wanted: Floats) -> tuple[Floats, float]:
    """Least squares of two columns with no negative share, and its misfit."""
    both = np.linalg.lstsq(columns, wanted, rcond=None)[0]
    alone = np.maximum(columns.T @ wanted / (columns * columns).sum(axis=0), 0.0)
    tries = [np.array([alone[0], 0.0]), np.array([0.0, alone[1]])] + ([both] if both.min() >= 0 else [])
    misfits = [float(np.linalg.norm(columns @ part - wanted)) for part in tries]
    best = int(np.argmin(misfits))
    return tries[best], misfits[best]


def _mean_of_line(extent_mm: Floats, length_mm: float) -> Floats:
    """Variance of a mean along lines of ``extent_mm`` (k,) of a unit field with covariance exp(-d^2 / 2 l^2).

    Closed form of (2/L) integral over 0..L of (1 - d/L) exp(-d^2 / 2 l^2): 1 for short lines, sqrt(2 pi) l / L
    for long ones.
    """
    if length_mm <= 0:
        return np.zeros_like(extent_mm)
    x = np.maximum(extent_mm / length_mm, 1e-4)
    mean: Floats = (np.sqrt(2 * np.pi) * special.erf(x / np.sqrt(2)) - 2 * (1 - np.exp(-x * x / 2)) / x) / x
    return np.minimum(mean, 1.0)


def _covered(area_mm2: float, length_mm: float) -> float:
    """Integral of exp(-d^2 / 2 l^2) over all pairs of points of a disc of ``area_mm2``, mm4.

    By the disc's set covariance; tends to area x 2 pi l^2 for a large disc, area^2 for a small one.
    """
    radius = np.sqrt(area_mm2 / np.pi)
    d = np.linspace(0.0, min(2 * radius, 7 * length_mm), 801)
    half = np.clip(d / (2 * radius), 0.0, 1.0)
    overlap = 2 * radius**2 * (np.arccos(half) - half * np.sqrt(1 - half * half))
    height = overlap * np.exp(-d * d / (2 * length_mm**2)) * 2 * np.pi * d
    return float((height[:-1] + height[1:]) @ np.diff(d) / 2)
