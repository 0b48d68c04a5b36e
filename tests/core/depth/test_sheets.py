"""Creases of the target: sharp corners against exact prisms, and that the sheets stay whole."""

from __future__ import annotations

import numpy as np
import pytest

from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import Found, found_between

LENGTH, DEEP = 100.0, 3.0
# Ridges of 90, 60 and 150 degrees between the faces: 90, 120 and 30 between the normals. Valleys: negative.
TURNS = [90.0, 120.0, 30.0, -90.0, -120.0, -30.0]


def sunk_roof(turn: float, set_in: float, u: Floats) -> Found:
    """A roof of faces along ``u``, set in by ``set_in``, under a wider target of other spacing."""
    target = shapes.roof(np.arange(-75.0, 76, 15), np.linspace(-20, 120, 12), turn)
    return found_between(shapes.roof(u, np.linspace(0, LENGTH, 38), turn, set_in), target)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("set_in", [DEEP, -DEEP])
@pytest.mark.parametrize("spacing", [2.0, 3.1])
def test_mitred_corner_is_exact(turn: float, set_in: float, spacing: float) -> None:
    # A prism's area of section by hand: each face a rectangle, and at the corner two right-angled triangles
    # of legs h and h tan(turn / 2), gained where the sheet lies on the hollow side, lost on the other.
    u = np.arange(-16, 17) * spacing
    got = sunk_roof(turn, set_in, u)
    assert got.depth.judged.all()
    section = 2 * u[-1] * set_in + DEEP**2 * np.tan(np.radians(turn) / 2)
    assert got.fill - got.cut == pytest.approx(LENGTH * section, rel=1e-9)
    assert min(got.fill, got.cut) < 1e-9


def test_sheets_stay_whole_where_edges_are_halved() -> None:
    # A sheet without cracks: the divided triangles' outline is as long as the panel's (by definition).
    got = sunk_roof(90.0, DEEP, np.arange(-16, 17) * 2.0)
    triangles = got.sheets.triangles
    assert len(triangles) > 32 * 37 * 2
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    n = len(got.sheets.panel)
    alone = ~np.isin(start * n + end, end * n + start)
    step = got.sheets.panel[start[alone]] - got.sheets.panel[end[alone]]
    assert np.linalg.norm(step, axis=1).sum() == pytest.approx(2 * (64.0 + LENGTH), rel=1e-12)
    whole = Surface(got.sheets.panel, triangles)
    assert whole.area == pytest.approx(64.0 * LENGTH, rel=1e-12)


def test_smooth_targets_are_not_divided() -> None:
    # A crowned target has no crease: nothing to divide, whatever its facets.
    x, y = shapes.grid_points(100.0, 100.0, 2.0)
    panel = shapes.sphere_patch(x - 50, y - 50, 500.0, 2.0)
    wide_x, wide_y = shapes.grid_points(160.0, 160.0, 5.0)
    got = found_between(panel, shapes.sphere_patch(wide_x - 80, wide_y - 80, 500.0))
    assert len(got.sheets.triangles) == len(panel.triangles)
    assert (got.sheets.parent == np.arange(len(panel.triangles))).all()


def test_rough_target_does_not_run_away() -> None:
    # A rough scan as target is creased everywhere: no more than 12 times the triangles.
    rng = np.random.default_rng(3)
    x, y = shapes.grid_points(100.0, 100.0, 1.0)
    target = shapes.sheet(x, y, rng.normal(0, 0.5, x.shape))
    panel = shapes.sheet(x[10:-10, 10:-10], y[10:-10, 10:-10], rng.normal(-2, 0.5, x.shape)[10:-10, 10:-10])
    got = found_between(panel, target)
    assert len(got.sheets.triangles) <= 12 * len(panel.triangles)
