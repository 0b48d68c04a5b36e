"""The risk of a job whose areas share a shift, against simulated laid surfaces, seeded draws and nested integrals."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import quad

from core.errors import InputError
from core.fill.job_risk import Standing, risk_of_shared_job
from core.fill.overbuild import Hand, chance_of_low_spot, field_thickness, risk_of_job
from core.statistics.random_field import chance_of_exceeding
from tests.core.fill.test_overbuild import HAND, SIZES, SURFACES, lowest

Floats = NDArray[np.float64]


def laid(size: tuple[float, float], shift_mm: float, risk: float = 0.05) -> Standing:
    return Standing(field_thickness(risk, *size, HAND, shift_mm), *size)


def one_shift(count: int, shift_mm: float) -> Floats:
    return np.full((count, count), shift_mm**2)


@pytest.mark.parametrize("shift_mm", [0.3, 0.5])
@pytest.mark.parametrize("shapes", [["disc"] * 6, ["strip", "L"], ["disc", "strip", "L", "hand-sized disc"] * 3])
def test_share_of_simulated_jobs_with_a_low_spot(shapes: list[str], shift_mm: float) -> None:
    """Simulation: 40 000 jobs on one shift each, every area a laid surface drawn from 5 000. An area's share is known
    to 0.004, and all areas of a job draw on the same surfaces, so that theirs add up. Counted as accidents of their
    own, six areas at 0.3 mm would be 0.12 too high, twelve 0.25."""
    rng = np.random.default_rng(len(shapes) * 1000 + round(shift_mm * 10))
    areas = [laid(SIZES[shape], shift_mm) for shape in shapes]
    shift = shift_mm * rng.standard_normal(40_000)
    low = np.zeros(len(shift), dtype=bool)
    for shape, area in zip(shapes, areas, strict=True):
        drawn = lowest(shape)[rng.integers(0, SURFACES, len(shift))]
        low |= area.thickness_mm + HAND.lay_sigma_mm * drawn - shift < -HAND.surfacer_mm
    found = risk_of_shared_job(areas, HAND, one_shift(len(areas), shift_mm))
    assert found == pytest.approx(low.mean(), abs=0.004 * len(areas))


def test_six_palms_that_share_a_third_of_a_millimetre() -> None:
    """Numerical integration (quad) over the one shift: 14 %, not the 26 % of six accidents."""
    area = laid((8_000.0, 320.0), 0.3)

    def wrong(z: float) -> float:
        level = (area.thickness_mm + HAND.surfacer_mm - 0.3 * z) / HAND.lay_sigma_mm
        each = chance_of_exceeding(level, area.area_mm2, area.perimeter_mm, HAND.lay_correlation_mm)
        return (1 - (1 - each) ** 6) * math.exp(-z * z / 2) / math.sqrt(2 * math.pi)

    exact = quad(wrong, -9, 9, points=[2.0, 3.0], limit=400)[0]
    assert exact == pytest.approx(0.1405, abs=1e-4)
    assert risk_of_shared_job([area] * 6, HAND, one_shift(6, 0.3)) == pytest.approx(exact, abs=1e-4)


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**31))
def test_areas_that_share_several_freedoms(seed: int) -> None:
    """Seeded draws (400 000) from the joint normal distribution, each area's chance from the closed form: a standard
    error of 0.0008 at most, so that 0.004 is five of them."""
    rng = np.random.default_rng(seed)
    count, freedoms = int(rng.integers(2, 9)), int(rng.integers(1, 7))
    levers = rng.normal(size=(count, freedoms)) * rng.uniform(0.02, 0.4)
    own = np.linalg.norm(levers, axis=1)
    areas = [laid((side**2, 4 * side), float(s), rng.uniform(0.01, 0.2))
             for side, s in zip(rng.uniform(12, 150, count), own, strict=True)]
    shift = levers @ rng.standard_normal((freedoms, 400_000))
    right = np.ones(shift.shape[1])
    for area, at in zip(areas, shift, strict=True):
        level = (area.thickness_mm + HAND.surfacer_mm - at) / HAND.lay_sigma_mm
        right *= 1 - chance_of_exceeding(level, area.area_mm2, area.perimeter_mm, HAND.lay_correlation_mm)
    found = risk_of_shared_job(areas, HAND, levers @ levers.T)
    assert found == pytest.approx(1 - right.mean(), abs=0.004)
    each = [chance_of_low_spot(a.thickness_mm, a.area_mm2, a.perimeter_mm, HAND, float(s))
            for a, s in zip(areas, own, strict=True)]
    assert max(each) - 1e-3 < found < sum(each) + 1e-3  # Boole


def test_its_ends() -> None:
    """No shift: independent (Bernoulli). One area: its own chance. A perfect hand: only whether the shift is too
    much."""
    areas = [laid(SIZES[shape], 0.0) for shape in ("disc", "strip", "L")]
    assert risk_of_shared_job(areas, HAND, np.zeros((3, 3))) == pytest.approx(1 - 0.95**3, abs=1e-9)
    each = [chance_of_low_spot(a.thickness_mm, a.area_mm2, a.perimeter_mm, HAND, 0.2) for a in areas]
    assert risk_of_shared_job(areas, HAND, 0.2**2 * np.eye(3)) == pytest.approx(risk_of_job(each), abs=1e-3)
    alone = laid(SIZES["disc"], 0.3)
    assert risk_of_shared_job([alone], HAND, one_shift(1, 0.3)) == pytest.approx(0.05, abs=1e-9)
    even = [Standing(0.2, *SIZES["disc"]), Standing(0.3, *SIZES["strip"])]
    # The thinner one is low whenever the other is: 1 - Phi((0.2 + 0.1) / 0.3) (tables: 0.15866).
    assert risk_of_shared_job(even, Hand(lay_sigma_mm=0.0), one_shift(2, 0.3)) == pytest.approx(0.158655, abs=1e-4)
    assert risk_of_shared_job([], HAND, np.empty((0, 0))) == 0.0


@pytest.mark.parametrize("shifts", [np.zeros((2, 2)), np.zeros(3), np.full((3, 3), np.nan)])
def test_a_covariance_that_does_not_fit_is_refused(shifts: Floats) -> None:
    areas = [laid(SIZES["disc"], 0.0)] * 3
    with pytest.raises(InputError, match="^shifts came as .* for 3 areas; finite, one row and column each is wanted"):
        risk_of_shared_job(areas, HAND, shifts)
