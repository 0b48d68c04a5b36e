"""Peaks of a Gaussian field against published figures, Rice's formula, closed limits and a search by brute force."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from core.errors import InputError
from core.statistics.random_field import (
    chance_of_exceeding,
    expected_peaks,
    level_for_chance,
    level_of_most_peaks,
)

LENGTH = 12.0
FWHM = LENGTH * math.sqrt(4 * math.log(2))  # Worsley 1996: Var(dZ/dx) = 4 ln 2 / FWHM^2, and here it is 1 / l^2


def tail(level: float) -> float:
    """1 - Phi by the error function of the standard library, not by the code under test."""
    return 0.5 * math.erfc(level / math.sqrt(2))


def inside_term(level: float, resels: float) -> float:
    """The area's share of E[EC]: a field with this area less a field without any."""
    return expected_peaks(level, resels * FWHM**2, 0.0, LENGTH) - expected_peaks(level, 0.0, 0.0, LENGTH)


def test_published_figures_of_256_resels() -> None:
    # Published figures for 256 resels, area term only; formula of Worsley et al. 1996, Hum. Brain Mapp. 4:58-73.
    assert inside_term(2.75, 256) == pytest.approx(2.825, abs=5e-4)
    assert inside_term(3.25, 256) == pytest.approx(0.7449, abs=5e-5)
    assert inside_term(4.050, 256) == pytest.approx(0.05, abs=2e-4)  # the level is printed to 3 figures


@pytest.mark.parametrize(
    ("resels", "level"), [(10, 3.0592), (50, 3.5915), (100, 3.7940), (500, 4.2222), (1000, 4.3923)]
)
def test_threshold_of_the_area_term(resels: float, level: float) -> None:
    # Computed in double precision from Worsley's formula R a / (2 pi)^(3/2) t exp(-t^2/2) = 0.05.
    found = brentq(lambda t: inside_term(t, resels) - 0.05, 2, 6)
    assert found == pytest.approx(level, abs=5.1e-5)


@pytest.mark.parametrize(("side", "level"), [(5, 3.429), (10, 3.816), (16, 4.062)])
def test_threshold_of_a_square_with_all_terms(side: float, level: float) -> None:
    # Computed from Worsley's formula with R0 = 1, R1 = 2 side, R2 = side^2 resels, E[EC] = 0.05.
    size = ((side * FWHM) ** 2, 4 * side * FWHM, LENGTH)
    assert brentq(lambda t: expected_peaks(t, *size) - 0.05, 2, 6) == pytest.approx(level, abs=5.1e-4)
    room = expected_peaks(level_of_most_peaks(*size), *size)
    assert level_for_chance(1 - (1 - 0.05 / room) ** room, *size) == pytest.approx(level, abs=5.1e-4)


def test_resels_and_millimetres_agree() -> None:
    # Worsley 1996, written out in resels for a 70 mm x 40 mm rectangle.
    a, t = 4 * math.log(2), 2.3
    r1, r2 = (70 + 40) / FWHM, 70 * 40 / FWHM**2
    fall = math.exp(-t * t / 2)
    wanted = tail(t) + r1 * math.sqrt(a) / (2 * math.pi) * fall + r2 * a / (2 * math.pi) ** 1.5 * t * fall
    assert expected_peaks(t, 2800.0, 220.0, LENGTH) == pytest.approx(wanted, rel=1e-13)


def test_a_line_follows_rice() -> None:
    # Rice 1944: a path of length L starts above t, or crosses it upwards L sqrt(lambda) / (2 pi) exp(-t^2/2) times.
    line = 300.0
    wanted = tail(1.7) + line / LENGTH / (2 * math.pi) * math.exp(-(1.7**2) / 2)
    assert expected_peaks(1.7, 0.0, 2 * line, LENGTH) == pytest.approx(wanted, rel=1e-13)


def test_a_tiny_area_has_the_normal_tail() -> None:
    # Closed form: a point exceeds t with 1 - Phi(t); an area of 1 um across is as good as a point.
    for t in (-3.0, 0.0, 1.0, 4.0):
        assert expected_peaks(t, 0.0, 0.0, LENGTH) == pytest.approx(tail(t), rel=1e-13)
        assert expected_peaks(t, 1e-6, 4e-3, LENGTH) == pytest.approx(tail(t), rel=1e-2, abs=1e-4)
    assert chance_of_exceeding(3.0, 0.0, 0.0, LENGTH) == pytest.approx(tail(3.0), rel=1e-3)


def test_slope_of_expected_peaks_by_integration() -> None:
    # Closed form of the densities: rho_2 = lambda/(2 pi)^1.5 t e^(-t^2/2), whose integral over t from 0 up is
    # lambda/(2 pi)^1.5; rho_1's is sqrt(lambda)/(2 pi) sqrt(pi/2); the normal tail's is 1/sqrt(2 pi).
    area, perimeter = 5000.0, 300.0
    wanted = (
        1 / math.sqrt(2 * math.pi)
        + perimeter / 2 / LENGTH / (2 * math.pi) * math.sqrt(math.pi / 2)
        + area / LENGTH**2 / (2 * math.pi) ** 1.5
    )
    got, _ = quad(lambda t: expected_peaks(t, area, perimeter, LENGTH), 0, 40, limit=200)
    assert got == pytest.approx(wanted, rel=1e-8)


@pytest.mark.parametrize(
    ("area", "perimeter"), [(1e4, 400.0), (1e6, 4000.0), (0.0, 600.0), (600.0, 92.0), (300.0, 62.0), (9000.0, 0.0)]
)
def test_level_of_most_peaks_by_brute_force(area: float, perimeter: float) -> None:
    # Brute force: the highest value of E[EC] on a fine grid, where that is a real turning point.
    levels = np.linspace(-4, 3, 70_001)
    peaks = expected_peaks(levels, area, perimeter, LENGTH)
    turns = levels[1:-1][(peaks[1:-1] >= peaks[:-2]) & (peaks[1:-1] > peaks[2:])]
    most = level_of_most_peaks(area, perimeter, LENGTH)
    assert most == pytest.approx(turns.max(), abs=1.1e-4)


def test_a_small_disc_has_no_level_of_most_peaks() -> None:
    # Closed form: with edge = r/2l and inside = r^2/(8 pi)^0.5 l^2 the slope has no root for r < 0.655 l.
    radius = LENGTH * np.array([0.65, 0.66])
    area, perimeter = np.pi * radius**2, 2 * np.pi * radius
    assert level_of_most_peaks(area[0], perimeter[0], LENGTH) == -math.inf
    assert level_of_most_peaks(area[1], perimeter[1], LENGTH) > -math.inf
    falling = expected_peaks(np.linspace(-6, 6, 10_001), area[0], perimeter[0], LENGTH)
    assert np.all(np.diff(falling) < 0)


def test_limits_of_the_chance() -> None:
    # A large area is exceeded for sure at a low level, although E[EC] itself is negative there, and never at a far one.
    size = (1e5, 1300.0, LENGTH)
    assert expected_peaks(-2.0, *size) < -1
    assert chance_of_exceeding(-2.0, *size) == 1.0
    assert chance_of_exceeding(-math.inf, *size) == 1.0
    assert chance_of_exceeding(math.inf, *size) == 0.0
    assert chance_of_exceeding(7.0, *size) == pytest.approx(expected_peaks(7.0, *size), rel=1e-6)


def test_levels_come_alone_or_in_arrays() -> None:
    levels = np.array([[0.0, 1.0], [2.0, 3.0]])
    for give in (expected_peaks, chance_of_exceeding):
        together = give(levels, 4000.0, 250.0, LENGTH)
        assert together.shape == (2, 2)
        assert isinstance(give(1.0, 4000.0, 250.0, LENGTH), float)
        assert together[0, 1] == give(1.0, 4000.0, 250.0, LENGTH)


@given(
    side=st.floats(0.0, 1000.0), other=st.floats(0.0, 1000.0), length=st.floats(0.5, 200.0),
    low=st.floats(-10, 10), step=st.floats(0, 5),
)
def test_the_chance_never_rises_with_the_level(
    side: float, other: float, length: float, low: float, step: float
) -> None:
    size = (side * other, 2 * (side + other), length)
    first, second = chance_of_exceeding(low, *size), chance_of_exceeding(low + step, *size)
    assert 0 <= second <= first + 1e-15 <= 1 + 1e-15


@given(
    side=st.floats(0.0, 1000.0), other=st.floats(0.0, 1000.0), length=st.floats(0.5, 200.0),
    level=st.floats(0, 10), scale=st.floats(1, 5),
)
def test_the_chance_never_falls_with_the_area(
    side: float, other: float, length: float, level: float, scale: float
) -> None:
    small = (side * other, 2 * (side + other), length)
    large = (side * other * scale**2, 2 * (side + other) * scale, length)
    assert chance_of_exceeding(level, *large) >= chance_of_exceeding(level, *small) - 1e-15


@given(side=st.floats(0.0, 1000.0), length=st.floats(0.5, 200.0), chance=st.floats(1e-6, 0.999))
def test_the_level_is_the_lowest_that_keeps_the_chance(side: float, length: float, chance: float) -> None:
    size = (side**2, 4 * side, length)
    level = level_for_chance(chance, *size)
    if level == -math.inf:
        assert chance_of_exceeding(level, *size) <= chance
        return
    assert chance_of_exceeding(level + 1e-9, *size) <= chance
    assert chance_of_exceeding(level - 1e-9, *size) >= chance


@pytest.mark.parametrize(
    ("area", "perimeter", "length", "sentence"),
    [
        (-1.0, 10.0, 12.0, "area came as -1;"),
        (1.0, -10.0, 12.0, "perimeter came as -10;"),
        (math.nan, 10.0, 12.0, "area came as nan;"),
        (1.0, math.inf, 12.0, "perimeter came as inf;"),
        (1.0, 10.0, 0.0, "correlation length came as 0 mm; more than 0 mm is wanted"),
        (1.0, 10.0, -3.0, "correlation length came as -3 mm;"),
    ],
)
def test_bad_sizes_are_refused(area: float, perimeter: float, length: float, sentence: str) -> None:
    for give in (expected_peaks, chance_of_exceeding):
        with pytest.raises(InputError, match=sentence):
            give(1.0, area, perimeter, length)
    with pytest.raises(InputError, match=sentence):
        level_for_chance(0.05, area, perimeter, length)


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, 5.0, math.nan])
def test_a_chance_outside_0_to_1_is_refused(chance: float) -> None:
    with pytest.raises(InputError, match="a share between 0 and 1 is wanted"):
        level_for_chance(chance, 100.0, 40.0, LENGTH)
