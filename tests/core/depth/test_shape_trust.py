"""What a made shape's trust makes of depths, volumes and totals, against closed forms and shapes really moved."""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.depth.shape_trust import ShapeTrust, everywhere, together
from core.depth.shifts import shared_shifts_mm2
from core.errors import InputError
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet, shuffled

SOLDER = pick(Settings.material)
SETTINGS = Settings(line_up_uncertainty_mm=1e-6)
X, Y = grid_points(300.0, 120.0, 3.0)
MIDDLES = ((70.0, 60.0), (220.0, 60.0))
DENTS = sum(cosine_dent(X, Y, middle, (35, 35), 2.0) for middle in MIDDLES)


def trusted(*sizes: float) -> ShapeTrust:
    """The flat shape over the two dents, made within 45 mm of each, with these standard uncertainties."""
    made, trust = np.zeros(X.size, dtype=bool), np.zeros(X.size)
    for middle, size in zip(MIDDLES, sizes, strict=True):
        near = np.hypot(X - middle[0], Y - middle[1]).ravel() < 45
        made[near], trust[near] = True, size
    return ShapeTrust(made, trust)


def planned(trust: ShapeTrust | None, shape: Surface | None = None) -> Plan:
    noise = noise_field(X.shape, 3.0, 0.0, 0.01, np.random.default_rng(0))
    whole = sheet(X, Y, 0 * X + np.where(DENTS > 0, 0.0, noise))
    return make_plan(sheet(X, Y, noise - DENTS), whole if shape is None else shape, SETTINGS, SOLDER, trust=trust)


def test_an_area_is_off_by_its_trust_times_its_size_and_places_add_in_squares() -> None:
    """By hand: a place that is off by t as a whole makes the volume over it wrong by t times its area; two places know
    nothing of one another, so their variances add (GUM 2008, 5.1.2)."""
    plan = planned(trusted(0.1, 0.05))
    lows = sorted((work.area for work in plan.works), key=lambda area: area.deepest_point_mm[0])
    assert len(lows) == 2
    for area, size in zip(lows, (0.1, 0.05), strict=True):
        over = area.offset_mm3 / area.offset_mm
        assert np.pi * 35**2 <= over <= np.pi * 47**2  # the dent, its hem, and no more
        assert area.shape_mm3 == pytest.approx(size * over, rel=0.02)
    factor = plan.survey.noise.factor_95
    alone = np.sqrt(sum(area.shape_mm3**2 + area.noise_mm3**2 for area in lows))
    assert plan.totals.fill_u95_mm3 == pytest.approx(factor * alone, rel=1e-3)
    shifts = shared_shifts_mm2(plan.panel.surface, plan.survey.areas, None)
    assert abs(shifts[0, 1]) < 1e-3 * shifts[0, 0]


def test_areas_over_one_place_are_wrong_together() -> None:
    """One place under both lows: the errors add up plainly, as one number moves both."""
    plan = planned(everywhere(X.size, 0.1))
    areas = [work.area for work in plan.works]
    added = sum(area.shape_mm3 for area in areas)
    assert plan.totals.fill_u95_mm3 == pytest.approx(plan.survey.noise.factor_95 * added, rel=0.01)
    shifts = shared_shifts_mm2(plan.panel.surface, plan.survey.areas, None)
    assert shifts[0, 1] == pytest.approx(0.01, rel=0.01)


def test_a_shape_that_is_moved_by_its_trust_moves_the_volume_as_stated() -> None:
    """The whole shape raised by 0.1 mm, judged over the same metal: a witness that knows nothing of levers. The rest
    of the panel, low by as much, is in no area."""
    before = planned(everywhere(X.size, 0.1))
    after = planned(None, sheet(X, Y, 0 * X + 0.1))
    inside = np.isin(before.survey.areas.hemmed, [1, 2])[before.survey.sheets.parent]
    one, other = (float(plan.survey.inside.signed_mm3[inside].sum()) for plan in (before, after))
    assert other - one == pytest.approx(sum(work.area.shape_mm3 for work in before.works), rel=0.02)


def test_the_minimum_overbuild_takes_it_in_as_it_does_a_line_up() -> None:
    """Both shift an area as a whole, so the same figure must ask for the same overbuild."""
    exact, doubted = planned(None), planned(everywhere(X.size, 0.15))
    shape = sheet(X, Y, 0 * X)
    lined_up = make_plan(exact.panel.surface, shape, Settings(line_up_uncertainty_mm=0.15), SOLDER)
    assert doubted.totals.minimum_overbuild_mm == pytest.approx(lined_up.totals.minimum_overbuild_mm, abs=0.005)
    assert doubted.totals.minimum_overbuild_mm > exact.totals.minimum_overbuild_mm + 0.02


@pytest.mark.parametrize("seed", range(4))
def test_it_stays_with_its_vertices_however_the_file_lists_them(seed: int) -> None:
    """Order of vertices is a file's own affair; and a soup of triangles, three vertices each, is welded first."""
    rng = np.random.default_rng(seed)
    trust, flat = trusted(0.1, 0.05), sheet(X, Y, 0 * X)
    whole = planned(trust, flat)
    mixed, row = shuffled(flat, rng)
    order = np.argsort(row)
    soup = Surface(flat.vertices[flat.triangles.ravel()], np.arange(flat.triangles.size).reshape(-1, 3))
    corners = flat.triangles.ravel()
    for surface, rows in ((mixed, order), (soup, corners)):
        plan = planned(ShapeTrust(trust.made[rows], trust.trust_mm[rows]), surface)
        assert plan.totals.fill_u95_mm3 == pytest.approx(whole.totals.fill_u95_mm3, rel=1e-9)


def test_what_nobody_knows_is_said_and_named() -> None:
    trust = trusted(0.1, 0.1)
    trust.trust_mm[X.ravel() > 150] = np.nan
    plan = planned(trust)
    right = max((work.area for work in plan.works), key=lambda area: area.deepest_point_mm[0])
    said = [text for text in plan.warnings if "is not known" in text]
    assert len(said) == 1
    assert said[0].startswith(f"{right.name}: ")
    assert all("is not known" not in text for text in planned(trusted(0.1, 0.1)).warnings)


def test_trust_of_another_number_of_vertices_is_refused() -> None:
    with pytest.raises(InputError, match="its trust came for 3 vertices"):
        planned(everywhere(3, 0.1))


def test_causes_add_in_squares_and_notes_are_kept() -> None:
    both = together(ShapeTrust(np.array([True, False]), np.array([3.0, np.nan]), ("a",)), everywhere(2, 4.0, "b"))
    assert both is not None
    np.testing.assert_array_equal(both.trust_mm, [5.0, np.nan])
    np.testing.assert_array_equal(both.made, [True, False])
    assert both.notes == ("a", "b")
