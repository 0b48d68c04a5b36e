"""Chance of a low spot anywhere in a job whose areas share a shift.

A panel that was lined up 0.1 mm too low lies 0.1 mm too low under every area: either most of them show a low spot or
hardly any, so that the job as a whole goes wrong less often than if each area were an accident of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ..errors import InputError
from ..statistics.random_field import chance_of_exceeding
from .overbuild import NEGLIGIBLE_MM, Hand, chance_of_low_spot, risk_of_job

Floats = NDArray[np.float64]

_SHIFTS = 1 << 14  # places of the lattice: right to 1e-3 in six freedoms, to 1e-4 in one (see the tests)
_STEPS = np.sqrt([2.0, 3.0, 5.0, 7.0, 11.0])  # of the lattice, in all but its first direction
_NO_FREEDOM = 1e-9  # share of the greatest variance that is rounding


@dataclass(frozen=True)
class Standing:
    """One area of a job: ``thickness_mm`` meant to stand over the target once it is cleaned up, and its size."""

    thickness_mm: float
    area_mm2: float
    perimeter_mm: float


def risk_of_shared_job(areas: Sequence[Standing], hand: Hand, shifts_mm2: Floats) -> float:
    """Chance, 0 to 1, of a low spot in any of ``areas``, whose shifts have the covariance ``shifts_mm2`` (n, n).

    The mean over the shifts of 1 - prod(1 - chance of each area), the hand's waviness being each area's own. It is
    taken over a fixed lattice of as many freedoms as the covariance has: an even one where all areas share one shift.
    With no shift it is `risk_of_job`, with one area `chance_of_low_spot`. Raises InputError where the covariance does
    not fit the areas.
    Source: Richtmyer's lattice, as in Genz 1992, doi:10.1080/10618600.1992.10477010.

    >>> one = Standing(1.188, 8_000.0, 320.0)  # of which each keeps 5 % where the shift is 0.3 mm
    >>> round(risk_of_shared_job([one] * 6, Hand(), np.full((6, 6), 0.3**2)), 3)
    0.14
    >>> round(risk_of_shared_job([one] * 6, Hand(), 0.3**2 * np.eye(6)), 3)
    0.265
    >>> risk_of_shared_job([], Hand(), np.empty((0, 0)))
    0.0
    """
    count = len(areas)
    covariance = np.asarray(shifts_mm2, dtype=np.float64)
    if covariance.shape != (count, count) or not np.isfinite(covariance).all():
        raise InputError(
            f"shifts came as {covariance.shape} for {count} areas; finite, one row and column each is wanted"
        )
    own = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    if count < 2 or own.max() < NEGLIGIBLE_MM:
        alone = zip(areas, own, strict=True)
        return risk_of_job([
            chance_of_low_spot(one.thickness_mm, one.area_mm2, one.perimeter_mm, hand, float(s)) for one, s in alone
        ])
    right = np.ones(_SHIFTS)
    for one, shift in zip(areas, _shifts(covariance), strict=True):
        right *= 1 - _chance(one, hand, shift)
    return float(1 - right.mean())


def _shifts(covariance: Floats) -> Floats:
    """Shifts (n, many) of the areas, mm, spread evenly through their joint normal distribution."""
    variance, ways = np.linalg.eigh(covariance)
    kept = np.flatnonzero(variance > _NO_FREEDOM * variance[-1])[::-1][: len(_STEPS) + 1]
    place = np.arange(_SHIFTS) + 0.5
    even = [place / _SHIFTS, *(place * step % 1.0 for step in _STEPS[: len(kept) - 1])]
    shifts: Floats = (ways[:, kept] * np.sqrt(variance[kept])) @ ndtri(np.array(even))
    return shifts


def _chance(one: Standing, hand: Hand, shift: Floats) -> Floats:
    """Chance (many,) of a low spot in one area at each of the shifts."""
    spare = one.thickness_mm + hand.surfacer_mm - shift
    if hand.lay_sigma_mm < NEGLIGIBLE_MM:
        return np.where(spare < 0, 1.0, 0.0)
    return chance_of_exceeding(spare / hand.lay_sigma_mm, one.area_mm2, one.perimeter_mm, hand.lay_correlation_mm)
