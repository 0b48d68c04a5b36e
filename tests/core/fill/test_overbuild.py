"""Minimum overbuild against simulated laid surfaces, numerical integration and closed forms."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import ndtri

from core.errors import InputError
from core.fill.overbuild import (
    Hand,
    chance_of_low_spot,
    field_thickness,
    laid_volume_mm3,
    minimum_overbuild_mm,
    risk_each_for_job,
    risk_of_job,
)

Floats = NDArray[np.float64]
HAND = Hand()
SURFACES = 5000
TORUS_MM = 280.0  # the simulated field repeats after this; no shape here is longer than 200 mm


# --- Simulated laid surfaces: a random Fourier series, nothing of the code under test ---------------------------

@cache
def waves() -> tuple[Floats, Floats]:
    """Wave vectors of the torus, one of each pair (k, -k), and their shares of the variance 1."""
    most = 5.6 / HAND.lay_correlation_mm  # beyond it lies exp(-5.6^2/2) = 2e-7 of the variance
    count = int(most * TORUS_MM / (2 * math.pi))
    i, j = (side.ravel() for side in np.meshgrid(*[np.arange(-count, count + 1)] * 2))
    k = 2 * math.pi / TORUS_MM * np.column_stack([i, j])
    keep = ((i > 0) | ((i == 0) & (j >= 0))) & ((k**2).sum(axis=1) <= most**2)
    k = k[keep]
    # The spectrum of exp(-d^2 / (2 l^2)) is proportional to exp(-k^2 l^2 / 2).
    share = np.exp(-0.5 * (k**2).sum(axis=1) * HAND.lay_correlation_mm**2)
    share[(k != 0).any(axis=1)] *= 2
    return k, share / share.sum()


def series(points: Floats) -> Floats:
    """Value of every cosine and sine at the points (n, 2): times standard normal numbers it is the field."""
    k, share = waves()
    phase = points @ k.T
    return np.hstack([np.cos(phase), np.sin(phase)]) * np.sqrt(np.hstack([share, share]))


def rectangle(x0: float, y0: float, x1: float, y1: float, step: float) -> Floats:
    """Points of a grid that has its outer rows on the rectangle's sides."""
    x, y = (np.linspace(a, b, round((b - a) / step) + 1) for a, b in ((x0, x1), (y0, y1)))
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def disc(radius: float, step: float) -> Floats:
    """Points on rings; the last ring is the disc's rim."""
    rings = [np.zeros((1, 2))]
    for r in np.linspace(0, radius, math.ceil(radius / step) + 1)[1:]:
        turn = np.linspace(0, 2 * math.pi, math.ceil(2 * math.pi * r / step), endpoint=False)
        rings.append(r * np.column_stack([np.cos(turn), np.sin(turn)]))
    return np.vstack(rings)


def points_of(shape: str, step: float) -> Floats:
    if shape == "disc":
        return disc(50.0, step)
    if shape == "strip":
        return rectangle(0, 0, 200, 20, step)
    if shape == "hand-sized disc":
        return disc(20.0, step)
    return np.vstack([rectangle(0, 0, 100, 30, step), rectangle(0, 30, 30, 100, step)])


# True area and perimeter of the shapes: pi r^2 and 2 pi r, a b and 2 (a + b); the L's inner corner adds no perimeter.
SIZES = {
    "disc": (math.pi * 50**2, 2 * math.pi * 50),
    "strip": (200.0 * 20.0, 2 * 220.0),
    "L": (100.0 * 30.0 + 30.0 * 70.0, 400.0),
    "hand-sized disc": (math.pi * 20**2, 2 * math.pi * 20),
}


@cache
def lowest(shape: str, step: float = 2.0) -> Floats:
    """Lowest value of each of the 5 000 unit fields within the shape; the same fields for every shape and step."""
    rng = np.random.default_rng(20_240)
    at = series(points_of(shape, step)).astype(np.float32)
    blocks = [rng.standard_normal((at.shape[1], 1000), dtype=np.float32) for _ in range(SURFACES // 1000)]
    return np.concatenate([(at @ block).min(axis=0) for block in blocks]).astype(np.float64)


@cache
def common_shift() -> Floats:
    """The shift of each laid surface, in units of its standard deviation."""
    return np.random.default_rng(77).standard_normal(SURFACES)


def share_low(shape: str, thickness_mm: float, shift_mm: float, step: float = 2.0) -> float:
    """Share of the simulated laid surfaces that are more than the surfacer's depth below the target somewhere."""
    laid = thickness_mm + HAND.lay_sigma_mm * lowest(shape, step) + shift_mm * common_shift()
    return float(np.mean(laid < -HAND.surfacer_mm))


def test_the_simulated_field_has_the_stated_covariance() -> None:
    # Closed form: the series' covariance is exp(-d^2 / (2 l^2)) between any two points of a shape.
    points = points_of("strip", 5.0)
    at = series(points)
    square = ((points[:, None] - points[None]) ** 2).sum(axis=2)
    assert np.abs(at @ at.T - np.exp(-0.5 * square / HAND.lay_correlation_mm**2)).max() < 2e-6


@pytest.mark.parametrize("risk", [0.05, 0.10])
@pytest.mark.parametrize("shift_mm", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("shape", ["disc", "strip", "L"])
def test_share_of_simulated_surfaces_with_a_low_spot(shape: str, shift_mm: float, risk: float) -> None:
    # Simulation, 5 000 surfaces: the standard error of the share is 0.003 at 0.05 and 0.004 at 0.10.
    thickness = field_thickness(risk, *SIZES[shape], HAND, shift_mm)
    assert share_low(shape, thickness, shift_mm) == pytest.approx(risk, abs=0.01)


@pytest.mark.parametrize("shift_mm", [0.0, 0.1, 0.3])
def test_share_on_an_area_hardly_larger_than_the_correlation(shift_mm: float) -> None:
    # Simulation as above, on 13 cm2: here 1 - exp(-E[EC]) would be 0.004 too low at shift 0.3.
    thickness = field_thickness(0.05, *SIZES["hand-sized disc"], HAND, shift_mm)
    assert share_low("hand-sized disc", thickness, shift_mm) == pytest.approx(0.05, abs=0.01)


def test_no_peak_slips_between_the_simulated_points() -> None:
    # Refinement: the same fields at 1 mm instead of 2 mm find hardly more low spots, and never fewer.
    for shift_mm in (0.0, 0.3):
        thickness = field_thickness(0.05, *SIZES["strip"], HAND, shift_mm)
        coarse, fine = (share_low("strip", thickness, shift_mm, step) for step in (2.0, 1.0))
        assert coarse <= fine <= coarse + 0.002


def test_expected_peaks_alone_are_no_chance() -> None:
    # Simulation: with E[EC] itself averaged over a wide shift, as if it were a chance, the thickness asked for
    # 0.05 leaves far fewer low spots than asked (it counts many peaks of one bad surface as many bad surfaces);
    # the chance that is used here does not.
    shift_mm, (area, perimeter) = 0.5, SIZES["disc"]

    def mean_peaks(thickness_mm: float) -> float:
        return quad(lambda u: written_out(thickness_mm, area, perimeter, shift_mm, u, peaks_only=True), -9, 9)[0]

    by_peaks = brentq(lambda t: mean_peaks(t) - 0.05, 1.0, 4.0)
    assert share_low("disc", by_peaks, shift_mm) < 0.035
    ours = field_thickness(0.05, area, perimeter, HAND, shift_mm)
    assert share_low("disc", ours, shift_mm) == pytest.approx(0.05, abs=0.01)


# --- Integration over the shift --------------------------------------------------------------------------------

def written_out(
    thickness_mm: float, area: float, perimeter: float, shift_mm: float, u: float, peaks_only: bool = False,
    hand: Hand = HAND, most: float = -math.inf, room: float = 1.0,
) -> float:
    """The integrand over u, the shift in its standard deviations, from Worsley's formula in mm."""
    t = (thickness_mm + hand.surfacer_mm + shift_mm * u) / hand.lay_sigma_mm
    l = hand.lay_correlation_mm  # noqa: E741
    terms = perimeter / 2 / l / (2 * math.pi) + area * t / l**2 / (2 * math.pi) ** 1.5
    peaks = 0.5 * math.erfc(t / math.sqrt(2)) + terms * math.exp(-t * t / 2)
    chance = peaks if peaks_only else 1.0 if t < most else 1 - (1 - min(1.0, peaks / room)) ** room
    return chance * math.exp(-u * u / 2) / math.sqrt(2 * math.pi)


@pytest.mark.parametrize("shift_mm", [1e-4, 0.02, 0.1, 0.3, 1.0, 30.0])
@pytest.mark.parametrize(
    ("area", "perimeter"), [(8000.0, 400.0), (1e6, 4000.0), (700.0, 110.0), (100.0, 36.0), (0.0, 0.0)]
)
def test_mean_over_the_shift_by_quadrature(area: float, perimeter: float, shift_mm: float) -> None:
    # Witness: scipy.integrate.quad, stretch by stretch, with the jump searched on a grid.
    levels = np.linspace(-3, 3, 600_001)
    inside, edge = area / 144 / (2 * math.pi) ** 1.5, perimeter / 2 / 12 / (2 * math.pi)
    slope = inside - 1 / math.sqrt(2 * math.pi) - edge * levels - inside * levels**2
    turns = np.flatnonzero((slope[:-1] > 0) & (slope[1:] <= 0))
    most = levels[turns[-1]] if len(turns) else -math.inf
    room = 1.0
    if len(turns):
        room = max(1.0, 0.5 * math.erfc(most / math.sqrt(2)) + (edge + inside * most) * math.exp(-most * most / 2))
    for thickness in (0.0, 0.5, 1.2):
        def integrand(u: float, thickness: float = thickness) -> float:
            return written_out(thickness, area, perimeter, shift_mm, u, most=most, room=room)

        cuts = [(0.3 * t - thickness - 0.1) / shift_mm for t in (most, -6, -3, -1, 0, 1, 2, 3, 4, 5, 6, 9)]
        ends = sorted({-12.0, -6.0, -3.0, 0.0, 3.0, 6.0, 12.0, *(round(u, 9) for u in cuts if -12 < u < 12)})
        wanted = sum(
            quad(integrand, a, b, epsabs=1e-12, epsrel=1e-10)[0] for a, b in zip(ends, ends[1:], strict=False)
        )
        got = chance_of_low_spot(thickness, area, perimeter, HAND, shift_mm)
        # the searched jump is right to 1e-5 standard deviations of the lay
        assert got == pytest.approx(wanted, abs=1e-9 + 2e-6 * min(1.0, 0.3 / shift_mm) * (len(turns) > 0))


def test_without_shift_it_is_the_chance_of_the_field() -> None:
    # Worsley's formula written out at one level; and a vanishing shift tends to it.
    size = (8000.0, 400.0)
    peaks = written_out(0.9, *size, 0.0, 0.0, peaks_only=True) * math.sqrt(2 * math.pi)
    levels = np.linspace(-3, 3, 60_001) * 0.3 - HAND.surfacer_mm
    room = max(written_out(t, *size, 0.0, 0.0, peaks_only=True) for t in levels) * math.sqrt(2 * math.pi)
    wanted = 1 - (1 - peaks / room) ** room
    assert chance_of_low_spot(0.9, *size, HAND, 0.0) == pytest.approx(wanted, rel=1e-7)
    assert chance_of_low_spot(0.9, *size, HAND, 1e-6) == pytest.approx(wanted, rel=1e-6)


def test_an_even_hand_leaves_only_the_shift() -> None:
    # Closed form: with no waviness the chance is Phi(-(t + surfacer) / shift), whatever the area.
    even = replace(HAND, lay_sigma_mm=0.0)
    assert chance_of_low_spot(0.2, 8000.0, 400.0, even, 0.3) == pytest.approx(0.15865525393, abs=1e-10)
    assert field_thickness(0.05, 8000.0, 400.0, even, 0.3) == pytest.approx(-0.3 * ndtri(0.05) - 0.1, abs=1e-9)
    assert chance_of_low_spot(-0.11, 8000.0, 400.0, even, 0.0) == 1.0
    assert chance_of_low_spot(-0.09, 8000.0, 400.0, even, 0.0) == 0.0
    assert field_thickness(0.05, 8000.0, 400.0, even, 0.0) == 0.0
    wavy = replace(HAND, lay_sigma_mm=1e-5)
    assert chance_of_low_spot(0.2, 8000.0, 400.0, wavy, 0.3) == pytest.approx(0.15865525393, abs=1e-4)


# --- Thickness and overbuild -----------------------------------------------------------------------------------

def test_thickness_from_the_published_threshold() -> None:
    # Worsley's square of side 10 FWHM: E[EC] = 0.05 at 3.816 standard deviations (computed from the formula).
    side = 10 * HAND.lay_correlation_mm * math.sqrt(4 * math.log(2))
    risk = 1 - math.exp(-0.05)
    wanted = 3.816 * 0.3 - 0.10
    assert field_thickness(risk, side**2, 4 * side, HAND, 0.0) == pytest.approx(wanted, abs=2e-4)
    assert minimum_overbuild_mm(risk, side**2, 4 * side, HAND, 0.0) == pytest.approx(wanted + 0.2, abs=2e-4)


def test_thickness_is_never_negative() -> None:
    thick_surfacer = replace(HAND, surfacer_mm=3.0)
    assert field_thickness(0.05, 8000.0, 400.0, thick_surfacer, 0.1) == 0.0
    assert minimum_overbuild_mm(0.05, 8000.0, 400.0, thick_surfacer, 0.1) == HAND.clean_up_mm
    assert field_thickness(0.999, 8000.0, 400.0, HAND, 0.0) >= 0.0


hands = st.builds(Hand, lay_sigma_mm=st.floats(0, 2), lay_correlation_mm=st.floats(1, 100))
sides, shifts = st.floats(0, 600), st.one_of(st.just(0.0), st.floats(0, 2))


@given(hand=hands, side=sides, other=sides, shift=shifts, thickness=st.floats(0, 3), more=st.floats(0, 3))
def test_thicker_is_never_riskier(
    hand: Hand, side: float, other: float, shift: float, thickness: float, more: float
) -> None:
    size = (side * other, 2 * (side + other), hand, shift)
    thin, thick = (chance_of_low_spot(t, *size) for t in (thickness, thickness + more))
    assert 0 <= thick <= thin + 1e-9 <= 1 + 1e-9


@settings(max_examples=60)
@given(hand=hands, side=sides, other=sides, shift=shifts, risk=st.floats(0.001, 0.4), scale=st.floats(1, 4))
def test_a_larger_area_never_needs_less(
    hand: Hand, side: float, other: float, shift: float, risk: float, scale: float
) -> None:
    small = field_thickness(risk, side * other, 2 * (side + other), hand, shift)
    large = field_thickness(risk, side * other * scale**2, 2 * (side + other) * scale, hand, shift)
    assert large >= small - 1e-6


@settings(max_examples=60)
@given(hand=hands, side=sides, shift=shifts, risk=st.floats(0.001, 0.9), more=st.floats(0.0, 0.09))
def test_thickness_is_the_least_that_keeps_the_risk(
    hand: Hand, side: float, shift: float, risk: float, more: float
) -> None:
    size = (side**2, 4 * side, hand, shift)
    thickness = field_thickness(risk, *size)
    assert field_thickness(risk + more, *size) <= thickness + 1e-9
    assert chance_of_low_spot(thickness + 1e-6, *size) <= risk + 1e-9
    if thickness > 1e-6:
        assert chance_of_low_spot(thickness - 1e-6, *size) >= risk - 1e-9


# --- Laying and the job ----------------------------------------------------------------------------------------

def test_laid_volume_of_a_cone_shaped_low() -> None:
    # Closed form: a cone of radius 30, depth 2 holds A h / 3; thickness added up over rings (midpoint rule) and half
    # the overbuild over the margin's ring give the same volume.
    radius, deep, margin, t0, c = 30.0, 2.0, 12.7, 0.8, 0.02
    area, ring = math.pi * radius**2, math.pi * ((radius + margin) ** 2 - radius**2)
    r = (np.arange(20_000) + 0.5) * radius / 20_000
    thickness = deep * (1 - r / radius) / (1 - c) + t0
    summed = float(np.sum(thickness * 2 * math.pi * r) * radius / 20_000) + 0.5 * t0 * ring
    assert laid_volume_mm3(area * deep / 3, area, ring, t0, c) == pytest.approx(summed, rel=1e-8)


def test_ten_areas_at_five_percent_make_forty() -> None:
    # Closed form: 1 - 0.95^10 = 0.4013 (Bernoulli).
    assert risk_of_job([0.05] * 10) == pytest.approx(0.401263, abs=1e-6)
    assert risk_of_job([0.0, 0.25]) == 0.25
    assert risk_of_job([1.0, 0.25]) == 1.0


@given(risk=st.floats(1e-6, 0.999), count=st.integers(1, 1000))
def test_risk_each_is_the_inverse(risk: float, count: int) -> None:
    assert risk_of_job([risk_each_for_job(risk, count)] * count) == pytest.approx(risk, rel=1e-6)


@pytest.mark.parametrize("risk", [0.0, 1.0, -0.05, 5.0, math.nan])
def test_a_risk_outside_0_to_1_is_refused(risk: float) -> None:
    with pytest.raises(InputError, match="risk came as .*; a share between 0 and 1 is wanted"):
        field_thickness(risk, 100.0, 40.0, HAND, 0.1)
    with pytest.raises(InputError, match="risk came as .*; a share between 0 and 1 is wanted"):
        risk_each_for_job(risk, 3)


def test_bad_settings_are_refused() -> None:
    with pytest.raises(InputError, match="lay sigma came as -0.3;"):
        Hand(lay_sigma_mm=-0.3)
    with pytest.raises(InputError, match="clean-up came as nan;"):
        Hand(clean_up_mm=math.nan)
    with pytest.raises(InputError, match="surfacer came as -1;"):
        Hand(surfacer_mm=-1.0)
    with pytest.raises(InputError, match="lay correlation came as 0 mm; more than 0 mm"):
        Hand(lay_correlation_mm=0.0)
    with pytest.raises(InputError, match="shift came as -0.1;"):
        chance_of_low_spot(1.0, 100.0, 40.0, HAND, -0.1)
    with pytest.raises(InputError, match="thickness came as nan mm;"):
        chance_of_low_spot(math.nan, 100.0, 40.0, HAND, 0.1)
    with pytest.raises(InputError, match="area came as -100;"):
        chance_of_low_spot(1.0, -100.0, 40.0, HAND, 0.1)


def test_bad_quantities_are_refused() -> None:
    for contraction in (-0.01, 1.0, math.nan):
        with pytest.raises(InputError, match="contraction came as"):
            laid_volume_mm3(1.0, 1.0, 1.0, 1.0, contraction)
    with pytest.raises(InputError, match="margin came as -1;"):
        laid_volume_mm3(1.0, 1.0, -1.0, 1.0, 0.0)
    with pytest.raises(InputError, match="risks came as .*; shares from 0 to 1"):
        risk_of_job([0.05, 1.2])
    with pytest.raises(InputError, match="count of areas came as 0;"):
        risk_each_for_job(0.05, 0)
