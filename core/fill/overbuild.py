"""Minimum overbuild: how far beyond the finished shape to lay, so that filing leaves no low spot.

The laid surface is the intended level plus the hand's waviness, a Gaussian field, plus a shift that the whole
area has in common (line-up, calibration). Thickness and overbuild are in mm, positive outwards.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, roots_legendre

from ..errors import InputError
from ..settings import Settings
from ..statistics.random_field import chance_of_exceeding, level_for_chance, level_of_most_peaks
from ..statistics.root import falling_root

Floats = NDArray[np.float64]

_USUAL = Settings()
TAIL = 10.0  # standard deviations; beyond this a normal variable, or a peak, has a chance under 1e-15
NEGLIGIBLE_MM = 1e-9  # a smaller lay sigma or shift counts as none: no one can lay or measure so well
NODES = 96  # of the Gauss-Legendre rule; the integral is then right to 1e-9 (see the tests)


@dataclass(frozen=True)
class Hand:
    """How evenly material is laid and how it is finished, mm; every default is the user's to change."""

    lay_sigma_mm: float = _USUAL.lay_sigma_mm  # standard deviation of the laid surface
    lay_correlation_mm: float = _USUAL.lay_correlation_mm  # l in the covariance exp(-d^2 / (2 l^2))
    clean_up_mm: float = _USUAL.clean_up_mm  # filed off everywhere to leave a clean surface
    surfacer_mm: float = _USUAL.surfacer_mm  # a shallower low is left to surfacer

    def __post_init__(self) -> None:
        _check_not_negative("lay sigma", self.lay_sigma_mm)
        _check_not_negative("clean-up", self.clean_up_mm)
        _check_not_negative("surfacer", self.surfacer_mm)
        if not (math.isfinite(self.lay_correlation_mm) and self.lay_correlation_mm > 0):
            raise InputError(
                f"lay correlation came as {self.lay_correlation_mm:g} mm; more than 0 mm is wanted; set it anew"
            )


def chance_of_low_spot(
    thickness_mm: float, area_mm2: float, perimeter_mm: float, hand: Hand, shift_mm: float
) -> float:
    """Chance, 0 to 1, that material meant to stand ``thickness_mm`` over the target is low somewhere in an area.

    Low: more than ``hand.surfacer_mm`` below the target. ``shift_mm`` is the standard deviation of the
    common shift. The mean over the shift of `chance_of_exceeding`; on simulated
    surfaces of 1 to 80 cm2 the true share was 0.000 to 0.002 below an asked 0.05 and 0.001 to 0.004 below 0.10.
    With lay_sigma 0 only the shift is left; with shift 0 only the field. Raises InputError for bad sizes.

    >>> round(chance_of_low_spot(1.0, 8_000.0, 320.0, Hand(), 0.05), 4)
    0.0209
    >>> chance_of_low_spot(0.0, 8_000.0, 320.0, Hand(lay_sigma_mm=0.0), 0.0)
    0.0
    """
    _check_not_negative("shift", shift_mm)
    if not math.isfinite(thickness_mm):
        raise InputError(f"thickness came as {thickness_mm:g} mm; a finite thickness is wanted; set it anew")
    size = (area_mm2, perimeter_mm, hand.lay_correlation_mm)
    spare, sigma = thickness_mm + hand.surfacer_mm, hand.lay_sigma_mm
    if sigma < NEGLIGIBLE_MM and shift_mm < NEGLIGIBLE_MM:
        return float(spare < 0)
    if sigma < NEGLIGIBLE_MM:
        return float(ndtr(-spare / shift_mm))
    if shift_mm < NEGLIGIBLE_MM:
        return chance_of_exceeding(spare / sigma, *size)
    return _mean_over_shift(spare / sigma, shift_mm / sigma, size)


def _mean_over_shift(level: float, spread: float, size: tuple[float, float, float]) -> float:
    """Mean of the chance over levels distributed normally about ``level`` with deviation ``spread``.

    Certain below the most peaks, or far down; from there to the tail a smooth product, for Gauss and Legendre.
    """
    most = level_of_most_peaks(*size)
    start = max(most, -TAIL)
    certain = ndtr((start - level) / spread)
    low = max(start, level - TAIL * spread)
    high = max(low, min(start + 2 * TAIL, level + TAIL * spread))
    nodes, weights = _legendre()
    at = 0.5 * (low + high) + 0.5 * (high - low) * nodes
    density = np.exp(-0.5 * ((at - level) / spread) ** 2) / (spread * math.sqrt(2 * math.pi))
    rest = 0.5 * (high - low) * np.sum(weights * density * chance_of_exceeding(at, *size))
    return float(min(1.0, certain + rest))


@cache
def _legendre() -> tuple[Floats, Floats]:
    nodes, weights = roots_legendre(NODES)
    return nodes, weights


def field_thickness(risk: float, area_mm2: float, perimeter_mm: float, hand: Hand, shift_mm: float) -> float:
    """Least thickness over the target, mm, at which the chance of a low spot is at most ``risk``.

    Never negative: 0 where the risk is kept without any. Before clean-up. Raises InputError for a risk
    that is not between 0 and 1.

    >>> round(field_thickness(0.05, 8_000.0, 320.0, Hand(), 0.05), 3)
    0.917
    >>> field_thickness(0.05, 8_000.0, 320.0, Hand(lay_sigma_mm=0.0), 0.0)
    0.0
    """
    _check_risk(risk)

    def excess(thickness_mm: float) -> float:
        return chance_of_low_spot(thickness_mm, area_mm2, perimeter_mm, hand, shift_mm) - risk

    if excess(0.0) <= 0:
        return 0.0
    if shift_mm < NEGLIGIBLE_MM:  # the chance may jump here, which the inverse knows about
        level = level_for_chance(risk, area_mm2, perimeter_mm, hand.lay_correlation_mm)
        return max(0.0, level * hand.lay_sigma_mm - hand.surfacer_mm)
    enough = 4 * TAIL * (hand.lay_sigma_mm + shift_mm)
    return falling_root(excess, 0.0, enough)


def minimum_overbuild_mm(risk: float, area_mm2: float, perimeter_mm: float, hand: Hand, shift_mm: float) -> float:
    """Minimum overbuild t0 of one area, mm: the field's thickness and the clean-up depth; errors as there.

    >>> round(minimum_overbuild_mm(0.05, 8_000.0, 320.0, Hand(), 0.05), 3)
    1.117
    >>> minimum_overbuild_mm(0.05, 8_000.0, 320.0, Hand(lay_sigma_mm=0.0), 0.0)
    0.2
    """
    return field_thickness(risk, area_mm2, perimeter_mm, hand, shift_mm) + hand.clean_up_mm


def laid_volume_mm3(
    fill_mm3: float, area_mm2: float, margin_area_mm2: float, t0_mm: float, contraction: float
) -> float:
    """Volume to lay on one area, mm3: the fill, the overbuild over it, and its taper to nothing over the margin.

    fill + t0 area + c/(1-c) fill + t0 margin / 2; the depth over the area adds up to the fill.
    Raises InputError for a negative size or a contraction outside 0 to 1.

    >>> round(laid_volume_mm3(9_800.0, 5_000.0, 2_000.0, 1.0, 0.02), 6)
    16000.0
    >>> laid_volume_mm3(0.0, 0.0, 0.0, 1.0, 0.0)
    0.0
    """
    _check_not_negative("area", area_mm2)
    _check_not_negative("margin", margin_area_mm2)
    _check_not_negative("overbuild", t0_mm)
    return fill_mm3 * (1 + _extra(contraction)) + t0_mm * (area_mm2 + 0.5 * margin_area_mm2)


def risk_of_job(risks: Sequence[float] | Floats) -> float:
    """Chance, 0 to 1, of a low spot in any of the areas, each with its own chance (n,), taken as independent.

    >>> round(risk_of_job([0.05] * 10), 3)
    0.401
    >>> risk_of_job([])
    0.0
    """
    each = np.asarray(risks, dtype=np.float64)
    if not np.all((each >= 0) & (each <= 1)):
        raise InputError(f"risks came as {each.tolist()}; shares from 0 to 1 are wanted; set them anew")
    return float(1 - np.prod(1 - each))


def risk_each_for_job(risk_job: float, count: int) -> float:
    """Risk to allow each of ``count`` areas so that the whole job keeps ``risk_job``; inverse of `risk_of_job`.

    >>> round(risk_each_for_job(0.05, 10), 5)
    0.00512
    >>> round(risk_each_for_job(0.05, 1), 12)
    0.05
    """
    _check_risk(risk_job)
    if count < 1:
        raise InputError(f"count of areas came as {count}; 1 or more is wanted; plan an area first")
    return float(-math.expm1(math.log1p(-risk_job) / count))


def _extra(contraction: float) -> float:
    if not 0 <= contraction < 1:
        raise InputError(f"contraction came as {contraction:g}; a share from 0 to below 1 is wanted (0.02 for 2 %)")
    return contraction / (1 - contraction)


def _check_risk(risk: float) -> None:
    if not 0 < risk < 1:
        raise InputError(f"risk came as {risk:g}; a share between 0 and 1 is wanted (0.05 for 5 %); set it anew")


def _check_not_negative(name: str, size: float) -> None:
    if not (math.isfinite(size) and size >= 0):
        raise InputError(f"{name} came as {size:g}; 0 or more is wanted; set it anew")
