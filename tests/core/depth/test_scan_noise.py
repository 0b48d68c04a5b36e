"""Noise of a scan against a shape that is that scan itself: never 0, and known where nothing of it is in the depths."""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.depth.scan_noise import ROUGHNESS
from core.depth.shape_trust import ShapeTrust, everywhere
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.shape.shapes import metal_level
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

SOLDER = pick(Settings.material)
STEP = 4.0
X, Y = (each - half for each, half in zip(grid_points(600, 400, STEP), (300, 200), strict=True))
NEAR = np.hypot(X, Y) < 60


def crowned(x: Floats, y: Floats) -> Floats:
    return -(x**2) / 3000 - y**2 / 1800 + 4 * np.sin(x / 160)


def scanned(length: float, sigma: float, seed: int) -> tuple[Surface, Surface]:
    """A dented scan, and the same scan with the dent taken out where it was marked."""
    noise = noise_field(X.shape, STEP, length, sigma, np.random.default_rng(seed))
    scan = crowned(X, Y) + noise - cosine_dent(X, Y, (0, 0), (50, 50), 3.0)
    return sheet(X, Y, scan), sheet(X, Y, np.where(NEAR, crowned(X, Y), scan))


def planned(panel: Surface, shape: Surface, settings: Settings | None = None) -> Plan:
    trust = ShapeTrust(NEAR.ravel(), np.where(NEAR.ravel(), 0.001, 0.0))
    return make_plan(panel, shape, settings or Settings(), SOLDER, trust=trust)


@pytest.mark.parametrize(("length", "sigma", "least"), [
    (0.0, 0.03, 0.95), pytest.param(0.0, 0.08, 0.95, marks=pytest.mark.calibration), (8.0, 0.03, 0.85),
    pytest.param(8.0, 0.08, 0.85, marks=pytest.mark.calibration), (15.0, 0.05, 0.7)])
def test_it_is_the_metals_own_roughness(length: float, sigma: float, least: float) -> None:
    """Known noise in, the same out, less what is as wide as shape: the patches' 15 terms take that share of a block
    that they fill with 2 pi l^2 each (degrees of freedom). The depths alone would say 0."""
    found = [planned(*scanned(length, sigma, seed)) for seed in range(4)]
    assert {plan.survey.noise.source for plan in found} == {ROUGHNESS}
    share = np.mean([plan.survey.noise.sigma_mm for plan in found]) / sigma
    assert least < share < 1.05


def test_a_line_up_does_not_come_in_where_a_scan_lies_on_itself() -> None:
    close, far = (planned(*scanned(0.0, 0.03, 0), Settings(line_up_uncertainty_mm=u)) for u in (0.01, 0.3))
    assert close.totals.fill_u95_mm3 == far.totals.fill_u95_mm3


def test_the_scanners_own_figure_comes_first() -> None:
    settings = Settings(scan_error_mm=0.1, scan_error_length_mm=10.0)
    plan = planned(*scanned(0.0, 0.03, 0), settings)
    assert plan.survey.noise.source == "stated"
    assert plan.survey.noise.sigma_mm == pytest.approx(0.1)


def test_set_in_it_is_the_scan_still() -> None:
    """The shape set in by 1 mm is off by 1 mm everywhere, and no noise is seen in that either."""
    panel, shape = scanned(0.0, 0.05, 1)
    plan = planned(panel, metal_level(shape, 1.0).surface)
    assert plan.survey.noise.sigma_mm == pytest.approx(0.05, rel=0.15)


def test_another_scan_of_the_panel_shows_both_scans_noise() -> None:
    """As It Was: two scans differ by the noise of both, and the depths show it: sqrt(2) of one."""
    noise = [noise_field(X.shape, STEP, 0.0, 0.05, np.random.default_rng(seed)) for seed in (0, 1)]
    panel = sheet(X, Y, crowned(X, Y) + noise[0] - cosine_dent(X, Y, (0, 0), (50, 50), 3.0))
    plan = make_plan(panel, sheet(X, Y, crowned(X, Y) + noise[1]), Settings(), SOLDER, trust=everywhere(X.size, 0.06))
    assert plan.survey.noise.sigma_mm == pytest.approx(0.05 * np.sqrt(2), rel=0.1)


def test_what_the_sides_of_a_body_differ_by_slowly_is_no_noise() -> None:
    """A mirrored shape that is off by a smooth 0.2 mm: that is its trust's affair; the noise is the scan's alone."""
    rng = np.random.default_rng(3)
    unlike, noise = noise_field(X.shape, STEP, 100.0, 0.2, rng), noise_field(X.shape, STEP, 0.0, 0.03, rng)
    panel = sheet(X, Y, crowned(X, Y) + noise - cosine_dent(X, Y, (0, 0), (50, 50), 3.0))
    plan = make_plan(panel, sheet(X, Y, crowned(X, Y) + unlike), Settings(), SOLDER, trust=everywhere(X.size, 0.2))
    assert plan.survey.noise.sigma_mm == pytest.approx(0.03, rel=0.15)
