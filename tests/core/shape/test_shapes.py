"""Good Side, As It Was, Metal Level and Build Over: against shapes that are known beforehand."""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.depth.depth import measure_depth
from core.errors import NoOverlapError
from core.place.symmetry import find_symmetry
from core.planning.plan import make_plan
from core.settings import Settings
from core.shape.good_side import good_side
from core.shape.shapes import as_it_was, build_over, metal_level
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.shapes import (
    cosine_dent,
    flat_target,
    grid_points,
    noise_field,
    roof,
    sheet,
    sphere_patch,
)

RADIUS = 900.0


def crowned(below, size=(240, 180), step=3.0):
    """Part of a sphere of 900 mm, ``below(x, y)`` mm set in along its normals, about the origin."""
    x, y = grid_points(*size, step)
    x, y = x - size[0] / 2, y - size[1] / 2
    return sphere_patch(x, y, RADIUS, below(x, y))


def nothing(x, y):
    return 0 * x


def wide(below=nothing):
    return crowned(below, (320, 260), 4.0)


def out(points):
    """How far points lie outside the sphere, mm."""
    return np.linalg.norm(points + [0, 0, RADIUS], axis=1) - RADIUS


# As It Was


@pytest.mark.parametrize("away", [(0, 0, 60.0), (0, 0, -60.0), (900.0, 0, 0)])
def test_an_old_scan_that_lies_elsewhere_is_an_error_and_no_shape(away):
    with pytest.raises(NoOverlapError, match="line the stripped one up first"):
        as_it_was(wide(), Surface(crowned(filled).vertices + away, crowned(filled).triangles), 0.2, None)


def filled(x, y):
    return cosine_dent(x, y, (20, -10), (50, 40), 3.0)


def test_old_filler_is_found_where_it_lay():
    """Old skin: the shape under 0.2 mm of paint. Stripped: the shape with a dent, of known depth, that filler hid."""
    old = wide(lambda x, y: nothing(x, y) - 0.2)
    stripped = crowned(filled)
    made = as_it_was(old, stripped, 0.2, None)
    x, y = (each - half for each, half in zip(grid_points(240, 180, 3.0), (120, 90), strict=True))
    # Facets of 4 mm on a radius of 900 lie up to 4^2 / (4 x 900) = 0.004 mm inside the sphere.
    np.testing.assert_allclose(made.filler_mm, filled(x, y).ravel(), atol=0.012)
    assert made.carried is None
    assert np.abs(out(made.surface.vertices)).max() < 1e-3  # the paint is off, the shape itself is left


def test_old_filler_within_the_noise():
    """White noise of 0.05 mm on both scans: the difference has 0.07 (GUM), the map no bias."""
    rng = np.random.default_rng(0)
    old = wide(lambda x, y: -0.2 + noise_field(x.shape, 4.0, 0.0, 0.05, rng))
    made = as_it_was(old, crowned(lambda x, y: filled(x, y) + noise_field(x.shape, 3.0, 0.0, 0.05, rng)), 0.2, None)
    x, y = (each - half for each, half in zip(grid_points(240, 180, 3.0), (120, 90), strict=True))
    off = made.filler_mm - filled(x, y).ravel()
    # Feet on the old scan's facets average its noise over up to three points: between 0.05 and 0.0707.
    assert 0.05 < off.std() < 0.0707
    assert abs(off.mean()) < 4 * 0.0707 / np.sqrt(len(off) / 3)


def test_bad_spots_of_the_old_scan_are_carried_through():
    """A chip 1 mm deep in the old paint must not end up in the finished shape."""
    x, y = grid_points(320, 260, 4.0)
    x, y = x - 160, y - 130
    chip = np.hypot(x + 60, y) < 20
    old = wide(lambda x, y: -0.2 + 1.0 * (np.hypot(x + 60, y) < 20))
    made = as_it_was(old, crowned(filled), 0.2, chip.ravel())
    assert made.carried is not None
    assert np.abs(out(made.surface.vertices)).max() < 2e-3
    left = as_it_was(old, crowned(filled), 0.2, None)
    assert out(left.surface.vertices).min() < -0.9  # so the marks are what mends it


def test_filler_beyond_the_old_scan_is_not_judged():
    old = crowned(nothing, (120, 180))
    made = as_it_was(old, crowned(nothing), 0.0, None)
    x = (grid_points(240, 180, 3.0)[0] - 120).ravel()
    assert np.isnan(made.filler_mm[np.abs(x) > 63]).all()
    assert np.isfinite(made.filler_mm[np.abs(x) < 57]).all()


# Metal Level


def test_metal_level_lies_under_the_shape_by_the_filler():
    shape = wide()
    np.testing.assert_allclose(out(metal_level(shape, 1.5).surface.vertices), -1.5, atol=1e-3)


def test_a_plan_against_the_metal_level_tells_where_metal_must_come_up():
    """Filler of 2 mm over a dent of 5 mm: only what is deeper than 2 mm must come up, the rest stands above the level.

    The volume deeper than 2 mm under a cosine dent, d = 5 cos^2(pi r / 2) over an ellipse a, b: numerically below.
    """
    dent = lambda x, y: cosine_dent(x, y, (0, 0), (60, 45), 5.0)  # noqa: E731
    level = metal_level(wide(), 2.0).surface
    panel = crowned(lambda x, y: np.maximum(dent(x, y), 2.0))  # elsewhere the metal is brought to the level already
    plan = make_plan(panel, level, Settings(), pick("tin-lead-30-70", None))
    lows = [work.area for work in plan.works if work.area.kind == "low"]
    assert len(plan.works) == len(lows) == 1
    r = (np.arange(20_000) + 0.5) / 20_000
    d = np.maximum(5 * np.cos(np.pi * r / 2) ** 2, 2)
    layer = (d - 2) - (d**2 - 4) / RADIUS  # from 2 mm down to d: integral of (1 - s / R)^2 (Steiner, sphere)
    volume = 2 * np.pi * 60 * 45 * (layer * r).mean()
    assert lows[0].depth_max_mm == pytest.approx(3.0, abs=0.02)
    assert lows[0].volume_mm3 == pytest.approx(volume, rel=0.02)
    may_stay = crowned(lambda x, y: nothing(x, y) + 2.0)
    assert make_plan(may_stay, level, Settings(), pick("tin-lead-30-70", None)).works == ()


def test_metal_level_in_a_valley_does_not_cross_itself():
    """Two planes in a valley of 60 degrees, 2 mm of filler below them: by hand, two planes again."""
    valley = roof(np.linspace(-30, 30, 61), np.linspace(0, 20, 11), -60.0)
    level = metal_level(valley, 2.0).surface
    half = np.radians(30)
    planes = level.vertices[:, 2] * np.cos(half) - np.abs(level.vertices[:, 0]) * np.sin(half)
    np.testing.assert_allclose(planes, -2.0, atol=0.02)


# Build Over


def bumped(x, y):
    return -cosine_dent(x, y, (40, 30), (30, 30), 1.2) + cosine_dent(x, y, (-50, -20), (40, 40), 2.0)


@pytest.mark.parametrize("skin", [0.0, 0.5])
def test_build_over_leaves_nothing_proud_and_a_skin_everywhere(skin):
    panel, shape = crowned(bumped), wide()
    built = build_over(panel, shape, Tree(shape), skin)
    assert built.highest_mm == pytest.approx(1.2, abs=0.03)  # smoothed a little, as against noise
    assert built.offset_mm == pytest.approx(built.highest_mm + skin)
    np.testing.assert_allclose(out(built.surface.vertices), built.offset_mm, atol=1e-3)
    below = measure_depth(panel.vertices, panel.vertex_normals, built.surface, Tree(built.surface)).depth_mm
    assert np.nanmin(below) > skin - 0.04
    assert np.nanmin(below) < skin + 0.04  # and no more than is needed


def test_build_over_counts_all_the_fill_between():
    """Volume between two graphs over one grid, by the divergence theorem on closed bodies: nothing of the survey."""
    x, y = grid_points(240, 180, 3.0)
    shape = wide()
    panel = crowned(bumped)
    built = build_over(panel, shape, Tree(shape), 0.3)
    top = crowned(lambda x, y: nothing(x, y) - built.offset_mm)
    expected = body_volume(top) - body_volume(panel)
    assert built.fill_mm3 == pytest.approx(expected, rel=5e-3)


def body_volume(surface):
    """Volume from the sphere's middle to the sheet: a cone on each triangle."""
    a, b, c = (corner + [0, 0, RADIUS] for corner in surface.corners)
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)


def test_build_over_on_a_flat_panel_by_hand():
    """Bump of 1 mm on a flat panel, skin 0.5: offset 1.5 times the area, less the bump's own volume."""
    x, y = grid_points(120, 90, 1.5)
    bump = cosine_dent(x, y, (60, 45), (24, 24), 1.0)
    shape = sheet(*grid_points(160, 130, 5.0), np.zeros((33, 27)))
    shape = Surface(shape.vertices - [20, 20, 0], shape.triangles)
    built = build_over(sheet(x, y, bump), shape, Tree(shape), 0.5)
    volume = np.pi * 24 * 24 * 1.0 * (0.5 - 2 / np.pi**2)  # calculus, see shapes.cosine_dent
    assert built.fill_mm3 == pytest.approx(built.offset_mm * 120 * 90 - volume, rel=2e-3)
    assert built.offset_mm == pytest.approx(1.5, abs=0.03)


def test_where_nothing_stands_proud_nothing_is_moved():
    """Facets as long as the panel's own: coarser ones would cut 0.003 mm off the sphere, 2 % of the fill."""
    panel, shape = crowned(filled), crowned(nothing, (318, 258))
    built = build_over(panel, shape, Tree(shape))
    assert built.highest_mm == 0
    np.testing.assert_allclose(out(built.surface.vertices), 0, atol=1e-9)
    expected = body_volume(crowned(lambda x, y: nothing(x, y) - built.offset_mm)) - body_volume(panel)
    assert built.fill_mm3 == pytest.approx(expected, rel=5e-3)


def test_noise_alone_does_not_lift_the_shape_by_its_peaks():
    """White noise of 0.05 mm over 4 941 points has peaks of 0.2 mm: metal that high is not there."""
    panel = crowned(lambda x, y: noise_field(x.shape, 3.0, 0.0, 0.05, np.random.default_rng(1)))
    shape = wide()
    assert build_over(panel, shape, Tree(shape)).highest_mm < 0.12


FLAT_X, FLAT_Y = grid_points(400, 300, 4.0)
DISC = np.pi * (0.5 - 2 / np.pi**2)  # calculus, see shapes.cosine_dent: volume of a cosine dent over a b d


def over_flat(height):
    """A flat panel of 400 by 300 mm of that height (n, m), built over a flat shape with room all around."""
    shape = flat_target(400, 300)
    return build_over(sheet(FLAT_X, FLAT_Y, height), shape, Tree(shape))


@pytest.mark.parametrize("high", [25.0, 60.0])
def test_the_highest_is_found_however_far_it_stands_out(high):
    """Beyond the reach of a plan, 20 mm: by hand, offset times area less the high's own volume."""
    built = over_flat(cosine_dent(FLAT_X, FLAT_Y, (200, 152), (110, 110), high))
    assert built.offset_mm == pytest.approx(high, abs=1e-6)
    assert built.fill_mm3 == pytest.approx(high * (400 * 300 - DISC * 110 * 110), rel=3e-3)
    assert not len(built.proud_mm)
    assert built.warnings == ()


def test_the_deepest_dent_is_filled_as_well():
    built = over_flat(-cosine_dent(FLAT_X, FLAT_Y, (200, 150), (110, 110), 40.0))
    assert built.offset_mm == 0
    assert built.fill_mm3 == pytest.approx(DISC * 110 * 110 * 40.0, rel=3e-3)


def test_what_is_no_part_of_the_panel_is_neither_high_nor_filled():
    """A scanner saw a piece 50 mm behind the panel through a hole: the reach does not grow for that, and it is said."""
    behind = sheet(*grid_points(80, 80, 4.0), np.full((21, 21), -50.0))
    front = sheet(FLAT_X, FLAT_Y, cosine_dent(FLAT_X, FLAT_Y, (300, 200), (60, 60), 25.0))
    panel = Surface(np.concatenate([front.vertices, behind.vertices + [20, 20, 0]]),
                    np.concatenate([front.triangles, behind.triangles + len(front.vertices)]))
    shape = flat_target(400, 300)
    built = build_over(panel, shape, Tree(shape))
    assert built.offset_mm == pytest.approx(25.0)
    alone = build_over(front, shape, Tree(shape))
    assert built.fill_mm3 == pytest.approx(alone.fill_mm3, rel=1e-9)
    assert any("64 cm² of the panel are not measured" in text for text in built.warnings)


@pytest.mark.parametrize("length", [0.0, 10.0], ids=["white", "smooth"])
def test_noise_alone_moves_nothing_and_asks_for_nothing(length):
    """0.1 mm of noise has peaks of 0.4 mm, and its low half alone encloses 5 cm3 over 12 dm2 (FACTS 7)."""
    noise = noise_field(FLAT_X.shape, 4.0, length, 0.1, np.random.default_rng(3))
    built = over_flat(noise)
    assert built.offset_mm == 0
    # Three standard uncertainties of a mean: sigma sqrt(area x correlated area).
    assert built.fill_mm3 < 3 * 0.1 * np.sqrt(400 * 300 * max(16.0, 2 * np.pi * length**2))
    assert any("no highs are found" in text for text in built.warnings)


@pytest.mark.parametrize("sigma", [0.0, 0.05])
def test_a_narrow_high_is_cleared_as_far_as_noise_lets_one_tell(sigma):
    """24 mm wide and 1.5 mm high, which smoothing flattens by a sixth: no point may stay proud by more than noise."""
    noise = noise_field(FLAT_X.shape, 4.0, 0.0, sigma, np.random.default_rng(4)) if sigma else 0.0
    high = cosine_dent(FLAT_X, FLAT_Y, (200, 152), (12, 12), 1.5)
    built = over_flat(high + noise)
    assert (high - built.offset_mm).max() < 3 * sigma + 1e-6
    assert built.offset_mm == pytest.approx(1.5, abs=4 * sigma + 1e-6)
    assert not len(built.proud_mm)


def test_points_that_are_too_few_for_a_high_are_told():
    """A single stray point 2 mm out does not lift the whole shape, and is not kept quiet."""
    spike = np.zeros_like(FLAT_X)
    spike[40, 30] = 2.0
    built = over_flat(spike)
    assert built.offset_mm == 0
    np.testing.assert_allclose(built.proud_mm, [2.0])
    assert 16 <= built.proud_mm2 < 20  # the share of a point in a grid of 4 mm, tilted by the spike
    words = f"{built.proud_mm2 / 100:.2f} cm² still stand proud"
    assert any(words in text and "2.00 mm" in text for text in built.warnings)


def test_shapes_that_do_not_lie_on_one_another_are_refused():
    shape = wide()
    far = Surface(shape.vertices + [0, 0, 500], shape.triangles)
    with pytest.raises(NoOverlapError, match="line the scan up first"):
        build_over(crowned(nothing), far, Tree(far))


# From the Good Side


def winged(x, y, dent):
    """A panel symmetric from left to right, not from front to back, with a dent on its right side."""
    swage = 3 * np.exp(-(((np.abs(x) - 90 - 0.1 * y) / 15) ** 2))
    crown = -(x**2) / 1600 - y**2 / 2400 - 12 * ((y + 100) / 200) ** 4
    return crown + 5 * np.exp(-((x / 25) ** 2)) + swage - dent * cosine_dent(x, y, (100, 10), (35, 30), 4.0)


@pytest.fixture(scope="module")
def dented_wings():
    x, y = grid_points(360, 200, 3.0)
    x, y = x - 180, y - 100
    noise = noise_field(x.shape, 3.0, 6.0, 0.03, np.random.default_rng(3))
    return x, y, sheet(x, y, winged(x, y, 1.0) + noise)


def test_the_good_side_lies_over_the_bad(dented_wings):
    x, y, body = dented_wings
    symmetry = find_symmetry(body)
    shape = good_side(body, symmetry).surface
    bad = (x > 40).ravel()
    depth = measure_depth(body.vertices[bad], body.vertex_normals[bad], shape, Tree(shape)).depth_mm
    dent = cosine_dent(x, y, (100, 10), (35, 30), 4.0).ravel()[bad]
    judged = np.isfinite(depth)
    assert judged.mean() > 0.95
    assert np.abs(depth - dent)[judged].max() < 0.5  # slopes of 0.2 and noise of both sides
    assert np.sqrt(np.mean((depth - dent)[judged] ** 2)) < 0.07


def test_no_fill_and_no_high_metal_is_found_on_the_good_side(dented_wings):
    """What is wrong on the bad side must not turn up mirrored as work on sound metal."""
    x, _, body = dented_wings
    shape = good_side(body, find_symmetry(body)).surface
    plan = make_plan(body, shape, Settings(), pick("tin-lead-30-70", None))
    assert [work.area.kind for work in plan.works] == ["low"]
    assert plan.totals.cut_mm3 == 0
    volume = np.pi * 35 * 30 * 4 * (0.5 - 2 / np.pi**2)
    assert plan.totals.fill_mm3 == pytest.approx(volume, rel=0.03)
