"""Holes and rims hold a near-flat panel along itself, as far as they are known, and say so."""

from __future__ import annotations

import numpy as np
import pytest

from core.place.fit import InitialPose
from core.place.locate_by import Locating
from core.place.locating import Locators
from core.place.motion import STILL, Motion, small
from core.place.register import Registered, register
from core.surface.rim_lines import rim_lines
from core.surface.surface import Floats, Surface
from tests.core.place.pierced import HOLE, pierced, target_of

SHAPE = target_of(pierced(5.0))
HOLES, RIMS, BOTH = (Locating(h, r, 0.2) for h, r in ((True, False), (False, True), (True, True)))
AWAY = small(np.array([0.004, -0.006, 0.012]), np.array([6.0, -5.0, 3.0]))


def placed(locating: Locating, panel: Surface | None = None, away: Motion = AWAY) -> tuple[Registered, Floats]:
    """The line-up from ``away``, and how far the panel's points then are from their places along the sheet, (n, 2)."""
    panel = pierced(4.0, 0.05, dent_mm=3.0) if panel is None else panel
    fit = register(away.surface(panel), SHAPE, InitialPose(STILL, 5.0), None, locating)
    return fit, ((fit.motion @ away).of(panel.vertices) - panel.vertices)[:, :2]


def test_the_surface_alone_leaves_it_millimetres_off_and_says_so() -> None:
    fit, off = placed(Locating())
    assert np.abs(off).max() > 2.0
    assert fit.covariance.slide_mm > 2.0
    assert fit.located is None
    assert any("can slide" in warning for warning in fit.warnings)


def test_rims_bring_it_home_along_itself() -> None:
    """Rims that are exact: within a tenth of a millimetre everywhere, from 9 mm off."""
    fit, off = placed(RIMS)
    assert np.abs(off).max() < 0.1
    assert fit.covariance.slide_mm < 0.5
    assert fit.located is not None
    assert fit.located.rim_mm == pytest.approx(2 * (400 + 280), rel=0.02)
    assert fit.located.rim_off_mm < 0.1
    assert fit.warnings == ()


def test_one_hole_holds_its_own_place_and_leaves_the_turn_about_it() -> None:
    fit, off = placed(HOLES)
    panel = pierced(4.0, 0.05, dent_mm=3.0)
    near = np.linalg.norm(panel.vertices[:, :2] - HOLE, axis=1) < 30
    assert np.abs(off[near].mean(axis=0)).max() < 0.1
    assert fit.located is not None
    assert (fit.located.holes, fit.located.of_holes) == (1, 1)
    assert any("round about its middle" in warning for warning in fit.warnings)


@pytest.mark.calibration
@pytest.mark.parametrize("locating", [RIMS, BOTH])
def test_the_stated_slide_covers_what_rough_rims_leave(locating: Locating) -> None:
    """Of 100 scans whose hole and each 100 mm of rim are off by what is stated, at least 90 lie within the stated 95 %.

    What is stated is 1.96 times the standard deviation of all freedoms together, which is 95 % where one of them has it
    all and 99 % where three have a like share (chi squared of three, tables).
    """
    errors = []
    for seed in range(100):
        panel = pierced(8.0, 0.05, seed, rim_sigma_mm=0.2)
        fit, off = placed(locating, panel, STILL)
        errors.append(float(np.sqrt(np.mean(np.sum(off**2, axis=1)))) / fit.covariance.slide_mm)
    assert np.sum(np.array(errors) < 1) >= 90
    assert np.median(errors) > 0.3  # and it is not stated far too large


def test_a_hole_of_another_size_or_far_away_is_no_partner() -> None:
    other = pierced(4.0, hole=np.array([250.0, 90.0]))
    fit, _ = placed(HOLES, other)
    assert fit.located is not None
    assert fit.located.holes == 0
    assert any(warning.startswith("no hole locates the panel: none of its 1") for warning in fit.warnings)


def test_a_scan_cut_short_all_round_is_told() -> None:
    """Rims 12 mm inside the shape's can be laid on one side of it as well as anywhere: never in silence."""
    panel = pierced(4.0, 0.05)
    x, y = panel.vertices[:, 0], panel.vertices[:, 1]
    kept = (x > 9) & (x < 391) & (y > 9) & (y < 271)
    fit, _ = placed(RIMS, panel.part(kept[panel.triangles].all(axis=1)))
    assert any("if the scan was cut short there" in warning for warning in fit.warnings)


def test_no_rim_near_is_told() -> None:
    panel = pierced(4.0, 0.05, hole=None)
    x, y = panel.vertices[:, 0], panel.vertices[:, 1]
    kept = (x > 80) & (x < 250) & (y > 130) & (y < 220)
    fit, _ = placed(RIMS, panel.part(kept[panel.triangles].all(axis=1)))
    assert any(warning.startswith("no edge locates the panel") for warning in fit.warnings)


def test_pulls_follow_a_rigid_motion_of_both() -> None:
    panel, shape = pierced(6.0), pierced(5.0)
    turn = small(np.array([0.7, -0.4, 1.1]), np.array([300.0, -20.0, 80.0]))
    here = Locators(rim_lines(panel), rim_lines(shape), BOTH).at(STILL)
    there = Locators(rim_lines(panel), rim_lines(turn.surface(shape)), BOTH).at(turn)
    np.testing.assert_allclose(there.partners, turn.of(here.partners), atol=1e-8)
    gap = [np.sum((a.partners - m.of(a.points)) * a.along, axis=1) for a, m in ((here, STILL), (there, turn))]
    rims = slice(2, None)  # a hole's two directions may be any two in its plane
    np.testing.assert_allclose(gap[1][rims], gap[0][rims], atol=1e-8)
    np.testing.assert_allclose(there.along[rims], here.along[rims] @ turn.rotation.T, atol=1e-8)
