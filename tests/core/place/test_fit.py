"""One fit, point to plane, with anchors and a start to stay near."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import least_squares

from core.place.fit import InitialPose, fitted
from core.place.locating import Anchors
from core.place.motion import STILL, Motion, small
from core.surface.surface import Floats, Surface
from tests.core.place.crowned import odd, odd_panel, odd_shape, target_of
from tests.core.shapes import flat_target, grid_points, sheet

TARGET = target_of(odd_shape(2.0))
FLAT = target_of(flat_target(300, 200))


def fit(panel: Surface, start: InitialPose, target=TARGET, **more) -> tuple[Motion, bool]:
    return fitted(start.motion, panel.vertices, panel.vertex_normals, panel.vertex_areas, target, start, **more)


def true_panel() -> Surface:
    x, y = grid_points(300, 200, 5)
    return sheet(x, y, odd(x, y))


def test_it_finds_the_way_back() -> None:
    """From 3 degrees and 8 mm off, to within the chords of the shape's triangles (2 mm wide: 0.01 mm)."""
    away = small(np.radians([1.0, -2.0, 2.0]), np.array([5.0, -4.0, 5.0]))
    motion, settled = fit(away.surface(true_panel()), InitialPose(STILL, 1000.0))
    assert settled
    points = true_panel().vertices
    assert np.abs((motion @ away).of(points) - points).max() < 0.03


def test_the_least_sum_of_squares_is_scipy_s() -> None:
    """The same sum, of heights over the closed-form shape along its normals, made least by scipy."""
    panel = odd_panel(10.0, sigma_mm=0.3, seed=1)
    motion, _ = fit(panel, InitialPose(STILL, 1e6))

    def height(six: Floats) -> Floats:
        x, y, z = small(six[:3], six[3:]).of(panel.vertices).T
        slope_x, slope_y = (odd(x + 0.01, y) - odd(x - 0.01, y)) / 0.02, (odd(x, y + 0.01) - odd(x, y - 0.01)) / 0.02
        return (z - odd(x, y)) / np.sqrt(1 + slope_x**2 + slope_y**2) * np.sqrt(panel.vertex_areas)

    best = least_squares(height, np.zeros(6), x_scale=[0.01] * 3 + [1.0] * 3).x
    expected = small(best[:3], best[3:]).of(panel.vertices)
    assert np.abs(motion.of(panel.vertices) - expected).max() < 0.1  # of 2 mm that the dent and the noise pull it
    ours = height(np.concatenate([motion.vector(), motion.shift]))
    assert np.sum(ours**2) == pytest.approx(np.sum(height(best) ** 2), rel=2e-3)


def test_a_flat_panel_stays_where_it_started_along_itself() -> None:
    """Nothing tells where it lies along the plate: only its height and tilt are taken away."""
    x, y = grid_points(300, 200, 10)
    away = small(np.array([0.01, -0.02, 0.0]), np.array([0.0, 0.0, 4.0]))
    motion, settled = fit(away.surface(sheet(x, y, 0 * x)), InitialPose(STILL, 5.0), FLAT)
    placed = (motion @ away).of(np.stack([x.ravel(), y.ravel(), 0 * x.ravel()], axis=1))
    assert settled
    assert np.abs(placed[:, 2]).max() < 1e-3
    assert np.abs(placed[:, 0].mean() - 150) < 0.2
    assert np.abs(placed[:, 1].mean() - 100) < 0.2


def test_anchors_place_what_the_shape_leaves_free() -> None:
    """Two holes of a flat plate bring it to its place along itself; their own heights, left free, don't tilt it."""
    x, y = grid_points(300, 200, 10)
    holes = np.array([[20.0, 20, 0], [280, 180, 0]])
    away = small(np.array([0.0, 0.0, 0.02]), np.array([4.0, -3.0, 2.0]))
    wrong_height = holes + [0, 0, 5.0]
    along = np.repeat(np.eye(3)[:2], 2, axis=0)
    anchors = Anchors(np.tile(away.of(holes), (2, 1)), np.tile(wrong_height, (2, 1)), along, np.full(4, 0.01))
    motion, _ = fit(away.surface(sheet(x, y, 0 * x)), InitialPose(STILL, 5.0), FLAT, anchors=anchors)
    assert np.abs((motion @ away).of(holes) - holes).max() < 0.01


def test_far_points_weigh_nothing_in_a_robust_fit() -> None:
    """A third of the panel 12 mm low: Tukey's weight at three times 2 mm leaves it out, plain squares do not."""
    panel = true_panel()
    low = panel.vertices[:, 0] < 100
    sunk = Surface(panel.vertices - low[:, None] * np.array([0, 0, 12.0]), panel.triangles)
    robust, _ = fit(sunk, InitialPose(STILL), robust_mm=2.0)
    plain, _ = fit(sunk, InitialPose(STILL))
    off = [np.abs(m.of(panel.vertices) - panel.vertices)[~low, 2].max() for m in (robust, plain)]
    assert off[0] < 0.2
    assert off[1] > 1.0


def test_nothing_in_reach_is_not_settled() -> None:
    panel = true_panel()
    far = Surface(panel.vertices + [0, 0, 900.0], panel.triangles)
    motion, settled = fit(far, InitialPose(STILL))
    assert not settled
    np.testing.assert_array_equal(motion.matrix(), np.eye(4))
