"""How likely a smooth random surface reaches a level somewhere in an area.

The surface is a Gaussian random field: mean 0, standard deviation 1, covariance exp(-d^2 / (2 l^2)) between
points d apart. E[EC], the expected Euler characteristic of the part above a level (pieces less their holes),
has a closed form: R. J. Adler, The Geometry of Random Fields (1981, from memory); K. J. Worsley et al.,
Hum. Brain Mapp. 4 (1996) 58-73. At high levels it counts the peaks above the level.
"""

from __future__ import annotations

import math
from typing import overload

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ..errors import InputError
from .root import falling_root

Floats = NDArray[np.float64]

FAR = 40.0  # exp(-FAR^2 / 2) is 0 in float64: nothing changes beyond this level
ROOT_TWO_PI = math.sqrt(2 * math.pi)


@overload
def expected_peaks(level: float, area_mm2: float, perimeter_mm: float, length_mm: float) -> float: ...
@overload
def expected_peaks(level: Floats, area_mm2: float, perimeter_mm: float, length_mm: float) -> Floats: ...
def expected_peaks(
    level: float | Floats, area_mm2: float, perimeter_mm: float, length_mm: float
) -> float | Floats:
    """E[EC] of a unit Gaussian field above ``level`` (in standard deviations) over one area, same shape as level.

    The area is one piece without holes (Euler characteristic 1), any outline; ``length_mm`` is l in the
    covariance exp(-d^2 / (2 l^2)). Close to the number of peaks where the level is high; no count and no
    chance where it is low: there it falls again and may be negative. A point (area and perimeter 0) gives
    the normal tail 1 - Phi(level). Raises InputError for a negative size or a length that is not above 0.
    Source: Worsley et al. 1996, Hum. Brain Mapp. 4:58-73, with 4 ln 2 / FWHM^2 = 1 / l^2.

    >>> round(expected_peaks(3.0, 10_000.0, 400.0, 12.0), 4)
    0.1778
    >>> expected_peaks(0.0, 0.0, 0.0, 12.0)
    0.5
    """
    edge, inside = _sizes(area_mm2, perimeter_mm, length_mm)
    t = np.clip(np.asarray(level, dtype=np.float64), -FAR, FAR)
    peaks = ndtr(-t) + (edge + inside * t) * np.exp(-0.5 * t * t)
    return float(peaks) if np.ndim(level) == 0 else np.asarray(peaks)


def level_of_most_peaks(area_mm2: float, perimeter_mm: float, length_mm: float) -> float:
    """The level, in standard deviations, below which E[EC] counts holes rather than peaks.

    There E[EC] has its maximum; above it E[EC] only falls. An area that is small against l squared
    (a disc of radius under 0.65 l) has no maximum, its E[EC] falls everywhere: -inf.

    >>> round(level_of_most_peaks(10_000.0, 400.0, 12.0), 3)
    0.699
    >>> level_of_most_peaks(0.0, 0.0, 12.0)
    -inf
    """
    edge, inside = _sizes(area_mm2, perimeter_mm, length_mm)
    # The slope of E[EC] is 0 where inside t^2 + edge t = over; the larger root, safe for inside = 0.
    over = inside - 1 / ROOT_TWO_PI
    square = edge * edge + 4 * inside * over
    if square <= 0:
        return -math.inf
    return 2 * over / (edge + math.sqrt(square))


@overload
def chance_of_exceeding(level: float, area_mm2: float, perimeter_mm: float, length_mm: float) -> float: ...
@overload
def chance_of_exceeding(level: Floats, area_mm2: float, perimeter_mm: float, length_mm: float) -> Floats: ...
def chance_of_exceeding(
    level: float | Floats, area_mm2: float, perimeter_mm: float, length_mm: float
) -> float | Floats:
    """Chance, 0 to 1, that a unit Gaussian field rises above ``level`` anywhere in the area; never rises with level.

    1 - (1 - E[EC] / n)^n, where n is the largest E[EC] at any level, 1 or more: as many peaks as the area has room
    for, each as likely and independent; 1 below the level of most peaks. A large area tends to the usual
    1 - exp(-E[EC]), a point has exactly 1 - Phi(level). That usual form is too low where the area has room for one
    peak only: by up to 0.039 at 0.10 on simulated surfaces, this one by under 0.001, and it is at most 0.004 too high.
    Errors as in `expected_peaks`. Source: our own, between two known limits; held by simulation in the tests.

    >>> round(chance_of_exceeding(3.0, 10_000.0, 400.0, 12.0), 4)
    0.1657
    >>> chance_of_exceeding(0.5, 10_000.0, 400.0, 12.0)
    1.0
    >>> round(chance_of_exceeding(3.0, 0.0, 0.0, 12.0), 5)
    0.00135
    """
    peaks = expected_peaks(np.asarray(level, dtype=np.float64), area_mm2, perimeter_mm, length_mm)
    most = level_of_most_peaks(area_mm2, perimeter_mm, length_mm)
    room = max(1.0, expected_peaks(most, area_mm2, perimeter_mm, length_mm))
    share = np.clip(peaks / room, 0.0, 1 - 1e-16)
    chance = np.where(np.less(level, most), 1.0, -np.expm1(room * np.log1p(-share)))
    return float(chance) if np.ndim(level) == 0 else chance


def level_for_chance(chance: float, area_mm2: float, perimeter_mm: float, length_mm: float) -> float:
    """The lowest level, in standard deviations, that the field exceeds with at most this ``chance``.

    Inverse of `chance_of_exceeding`; a chance in its jump from 1 gives the level of the jump.
    Raises InputError for a chance that is not between 0 and 1.

    >>> round(level_for_chance(0.05, 10_000.0, 400.0, 12.0), 4)
    3.4228
    >>> round(level_for_chance(0.9, 0.0, 0.0, 12.0), 4)
    -1.2816
    """
    if not 0 < chance < 1:
        raise InputError(f"chance came as {chance:g}; a share between 0 and 1 is wanted (0.05 for 5 %); set it anew")
    most = level_of_most_peaks(area_mm2, perimeter_mm, length_mm)
    lowest = max(most, -FAR)
    if chance_of_exceeding(lowest, area_mm2, perimeter_mm, length_mm) <= chance:
        return most

    def excess(level: float) -> float:
        return chance_of_exceeding(level, area_mm2, perimeter_mm, length_mm) - chance

    return falling_root(excess, lowest, FAR)


def _sizes(area_mm2: float, perimeter_mm: float, length_mm: float) -> tuple[float, float]:
    """The factors of the terms of E[EC] for the edge and for the inside of the area."""
    for name, size in (("area", area_mm2), ("perimeter", perimeter_mm)):
        if not (math.isfinite(size) and size >= 0):
            raise InputError(f"{name} came as {size:g}; a size of 0 or more is wanted; measure the area again")
    if not (math.isfinite(length_mm) and length_mm > 0):
        raise InputError(f"correlation length came as {length_mm:g} mm; more than 0 mm is wanted; set it anew")
    return perimeter_mm / (4 * math.pi * length_mm), area_mm2 / (ROOT_TWO_PI**3 * length_mm**2)
