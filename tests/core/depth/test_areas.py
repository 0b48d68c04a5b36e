"""Areas: their number, kind, size, outline and depth, against closed forms and on awkward panels."""

from __future__ import annotations

import numpy as np
import pytest

from core.depth.survey import Rules, Survey, survey
from core.surface.nearest import Tree
from core.surface.surface import Floats, Mask, Surface
from tests.core.shapes import cap_dent, cosine_dent, flat_target, grid_points, irregular, noise_field, sheet

WIDTH, HEIGHT = 500.0, 400.0
TARGET = flat_target(WIDTH, HEIGHT)
TREE = Tree(TARGET)
CAP_MM3 = np.pi * 3 * (3 * 60**2 + 9) / 6  # handbook: pi h (3 a^2 + h^2) / 6 = 16 978.737
X, Y = grid_points(WIDTH, HEIGHT, 4)


def found(panel: Surface, work_area: Mask | None = None, **rules: float) -> Survey:
    return survey(panel, TARGET, TREE, Rules(**({"line_up_mm": 0.0} | rules)), work_area)  # type: ignore[arg-type]


def on_grid(depth: Floats, **rules: float) -> Survey:
    return found(sheet(X, Y, -depth), **rules)


def disc(centre: tuple[float, float], radius: float, depth: float) -> Floats:
    """A flat-bottomed low with a wall of one edge."""
    return np.where(np.hypot(X - centre[0], Y - centre[1]) < radius, depth, 0.0)


def test_numbers_follow_volume_and_kinds_count_apart() -> None:
    depth = cosine_dent(X, Y, (80, 80), (50, 50), 1) + cosine_dent(X, Y, (250, 80), (50, 50), 3)
    depth += cosine_dent(X, Y, (420, 80), (50, 50), 2)
    depth -= cosine_dent(X, Y, (120, 300), (40, 40), 1) + cosine_dent(X, Y, (350, 300), (40, 40), 2)
    areas = on_grid(depth).areas
    assert [a.name for a in areas.found] == ["Low 1", "Low 2", "Low 3", "High 1", "High 2"]
    np.testing.assert_allclose([a.depth_max_mm for a in areas.found], [3, 2, 1, 2, 1], atol=0.02)
    assert [round(a.deepest_point_mm[0], -1) for a in areas.found] == [250, 420, 80, 350, 120]
    # Cosine dents, volume pi a^2 d (1/2 - 2/pi^2) (calculus).
    shares = np.array([3 * 50**2, 2 * 50**2, 50**2, 2 * 40**2, 40**2])
    np.testing.assert_allclose(
        [a.volume_mm3 for a in areas.found], np.pi * shares * (0.5 - 2 / np.pi**2), rtol=0.003
    )
    assert {int(k) for k in np.unique(areas.label)} == {0, 1, 2, 3, 4, 5}


@pytest.mark.parametrize("mesh", ["grid", "irregular"])
def test_a_disc_has_its_area_and_perimeter(mesh: str) -> None:
    # A spherical cap's rim is a circle of radius 60: area 11 310 mm2, perimeter 377 mm (calculus). The outline
    # follows triangle sides, up to two rings past the rim, and a saw-tooth is longer than the circle it follows.
    def depth(x: Floats, y: Floats) -> Floats:
        return cap_dent(x, y, (241, 199), 60, 3)

    rng = np.random.default_rng(0)
    x, y = grid_points(WIDTH, HEIGHT, 2)
    panel = sheet(x, y, -depth(x, y)) if mesh == "grid" else irregular(WIDTH, HEIGHT, 2, rng, depth)
    (area,) = found(panel).areas.found
    assert area.volume_mm3 == pytest.approx(CAP_MM3, rel=1e-3)
    assert area.area_mm2 == pytest.approx(np.pi * 60**2, rel=0.08)
    assert area.perimeter_mm == pytest.approx(2 * np.pi * np.sqrt(area.area_mm2 / np.pi), rel=0.05)


def test_depth_and_deepest_point_clean_and_noisy() -> None:
    # The cap's depth is 3 mm by construction; noise of 0.03 mm may not lift it by more than 0.02 mm on the mean.
    clean = on_grid(cap_dent(X, Y, (240, 200), 60, 3)).areas.found[0]
    assert clean.depth_max_mm == pytest.approx(3, abs=0.01)
    assert np.hypot(clean.deepest_point_mm[0] - 240, clean.deepest_point_mm[1] - 200) <= 4
    seen = []
    for seed in range(20):
        noise = noise_field(X.shape, 4, 3, 0.03, np.random.default_rng(seed))
        (area,) = on_grid(cap_dent(X, Y, (240, 200), 60, 3) + noise).areas.found
        seen.append(area.depth_max_mm)
    assert np.mean(seen) == pytest.approx(3, abs=0.02)


def test_deepest_point_is_in_the_panels_own_frame() -> None:
    depth = cap_dent(X, Y, (240, 200), 60, 3)
    far = np.array([1e5, -2e5, 3e4])
    panel, target = sheet(X, Y, -depth), TARGET
    moved = Surface(panel.vertices, panel.triangles, far), Surface(target.vertices, target.triangles, far)
    (area,) = survey(moved[0], moved[1], Tree(moved[1]), Rules(line_up_mm=0)).areas.found
    np.testing.assert_allclose(np.array(area.deepest_point_mm) - far, [240, 200, -3], atol=4)


def test_rim_is_told() -> None:
    depth = cosine_dent(X, Y, (0, 200), (60, 60), 2) + cosine_dent(X, Y, (300, 200), (60, 60), 2)
    rim, inner = sorted(on_grid(depth).areas.found, key=lambda a: a.deepest_point_mm[0])
    assert rim.reaches_rim
    assert not inner.reaches_rim
    assert rim.volume_mm3 == pytest.approx(inner.volume_mm3 / 2, rel=0.02)  # half a dent


def test_two_lows_that_touch_share_the_whole() -> None:
    # Their sum is what both dents hold, nothing twice: the dents touch at x = 240 and do not overlap.
    depth = cosine_dent(X, Y, (180, 200), (60, 60), 2) + cosine_dent(X, Y, (300, 200), (60, 60), 2)
    lows = on_grid(depth).areas.of_kind("low")
    assert len(lows) == 2
    assert sum(a.volume_mm3 for a in lows) == pytest.approx(2 * np.pi * 3600 * 2 * (0.5 - 2 / np.pi**2), rel=0.002)
    assert lows[0].volume_mm3 == pytest.approx(lows[1].volume_mm3, rel=0.01)


def test_low_beside_a_high_crease() -> None:
    # Each keeps its own volume: neither takes metal of the other sign into its sum.
    low = cosine_dent(X, Y, (200, 200), (60, 60), 3)
    high = cosine_dent(X, Y, (285, 200), (25, 80), 1.5)
    areas = on_grid(low - high).areas
    assert [a.name for a in areas.found] == ["Low 1", "High 1"]
    share = 0.5 - 2 / np.pi**2
    assert areas.found[0].volume_mm3 == pytest.approx(np.pi * 3600 * 3 * share, rel=0.01)
    assert areas.found[1].volume_mm3 == pytest.approx(np.pi * 25 * 80 * 1.5 * share, rel=0.02)


def test_low_with_a_hole_in_it() -> None:
    # A bolt hole's metal is missing: its outline counts as rim and perimeter, its volume is not filled.
    depth = disc((240, 200), 60, 2.0)
    whole = on_grid(depth).areas.found[0]
    panel = sheet(X, Y, -depth)
    middle = panel.vertices[panel.triangles].mean(axis=1)
    drilled = panel.part(np.hypot(middle[:, 0] - 240, middle[:, 1] - 200) > 15)
    (area,) = found(drilled).areas.found
    gone = panel.area - drilled.area
    assert whole.volume_mm3 - area.volume_mm3 == pytest.approx(2 * gone, rel=0.02)
    assert area.reaches_rim
    assert not whole.reaches_rim
    # The hole's outline lies between two thirds of its circle (its steps evened out) and its staircase, 8 r and a step.
    assert 2 / 3 * 2 * np.pi * 15 < area.perimeter_mm - whole.perimeter_mm < 8 * 15 + 5 * 4


@pytest.mark.parametrize(("radius", "count"), [(4.5, 0), (10.0, 1)])
def test_a_seed_is_at_least_one_square_centimetre(radius: float, count: int) -> None:
    # 64 mm2 (four cells and what lies around them) is left alone, 314 mm2 is an area.
    assert len(on_grid(disc((242, 202), radius, 1.0)).areas.found) == count


def test_least_area_is_the_users() -> None:
    assert len(on_grid(disc((240, 200), 20, 1.0), least_area_mm2=5000.0).areas.found) == 0


def test_only_the_work_area_is_planned() -> None:
    depth = cap_dent(X, Y, (120, 120), 60, 3) + cap_dent(X, Y, (380, 280), 60, 3)
    work = (X < 250).ravel()
    (area,) = found(sheet(X, Y, -depth), work_area=work).areas.found
    assert area.volume_mm3 == pytest.approx(CAP_MM3, rel=0.003)
    assert area.deepest_point_mm[0] == pytest.approx(120, abs=4)


@pytest.mark.parametrize(("step", "close"), [(10.0, 0.03), (20.0, 0.12)])
def test_a_coarse_panel_still_gives_the_dent(step: float, close: float) -> None:
    # Linear facets inscribed in a cap miss about step^2 / 4 of its curvature; 1 % at 10 mm, a few at 20 mm.
    x, y = grid_points(WIDTH, HEIGHT, step)
    (area,) = found(sheet(x, y, -cap_dent(x, y, (240, 200), 60, 3))).areas.found
    assert area.volume_mm3 == pytest.approx(CAP_MM3, rel=close)
    assert area.longest_edge_mm == pytest.approx(step * np.sqrt(2), rel=0.01)


@pytest.mark.parametrize(("offset", "line_up"), [(0.1, 0.05), (-0.1, 0.05), (0.2, 0.0), (-0.2, 0.0)])
def test_a_shifted_scan_does_not_flood_the_panel(offset: float, line_up: float) -> None:
    # The dent stays no larger than its mouth by two rings, and the stated 95 % holds its true volume. Where the shift
    # nearly reaches the true tolerance of 0.25 mm the noise's own peaks may count, but not the panel as a whole.
    noise = noise_field(X.shape, 4, 8, 0.03, np.random.default_rng(2))
    seen = on_grid(cap_dent(X, Y, (240, 200), 60, 3) + offset + noise, line_up_mm=line_up)
    dent = seen.areas.of_kind("low")[0]
    assert dent.area_mm2 < np.pi * 70**2
    assert abs(dent.volume_mm3 - CAP_MM3) <= dent.volume_u95_mm3
    assert sum(a.area_mm2 for a in seen.areas.found) < 0.1 * WIDTH * HEIGHT
    if line_up == 0:
        assert seen.offset_mm == pytest.approx(offset, abs=0.02)  # what the warning is made from
    else:
        assert len(seen.areas.found) == 1


def test_a_panel_on_its_target_has_no_area() -> None:
    seen = on_grid(np.zeros(X.shape))
    assert seen.areas.found == ()
    assert not seen.areas.label.any()
