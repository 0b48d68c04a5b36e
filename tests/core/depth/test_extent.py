"""How long and wide an area is, and whether a high is on the edge of a low."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from trimesh.bounds import oriented_bounds_2D

from core.depth.extent import length_and_width_mm, lows_beside, rectangle_mm
from core.depth.survey import Rules, survey
from core.surface.condition import mend
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**31))
def test_a_rectangle_at_any_angle(seed: int) -> None:
    """By construction: sides known, turned any way on a tilted sheet; half an edge of up to 2.8 mm at each end."""
    rng = np.random.default_rng(seed)
    long, wide = rng.uniform(60, 120), rng.uniform(12, 55)
    turn, tilt = rng.uniform(0, np.pi), rng.uniform(0, 1.2)
    x, y = grid_points(160.0, 160.0, 2.0)
    flat = sheet(x - 80, y - 80, np.zeros_like(x))
    u = np.cos(turn) * flat.vertices[:, 0] + np.sin(turn) * flat.vertices[:, 1]
    v = -np.sin(turn) * flat.vertices[:, 0] + np.cos(turn) * flat.vertices[:, 1]
    inside = (np.abs(u) < long / 2) & (np.abs(v) < wide / 2)
    rotation = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
    tilted = Surface(flat.vertices @ rotation.T, flat.triangles)
    length, width = length_and_width_mm(tilted, inside)
    assert length == pytest.approx(long, abs=3.0)
    assert width == pytest.approx(wide, abs=3.0)


@pytest.mark.parametrize(("gap", "touches"), [(0.0, True), (4.0, True), (30.0, False), (60.0, False)])
def test_a_high_on_the_edge_of_a_low(gap: float, touches: bool) -> None:
    """By construction: a crown beside a dent, or so far off that 30 mm of sound metal lie between."""
    x, y = grid_points(260.0, 120.0, 2.0)
    z = cosine_dent(x, y, (160 + gap, 60), (30, 30), 1.5) - cosine_dent(x, y, (100, 60), (30, 30), 3.0)
    panel, _ = mend(sheet(x, y, z), "panel")
    target = flat_target(260.0, 120.0)
    areas = survey(panel, target, Tree(target), Rules()).areas
    assert [area.name for area in areas.found] == ["Low 1", "High 1"]
    assert lows_beside(panel, areas, 2) == (("Low 1",) if touches else ())


@given(seed=st.integers(0, 2**31), count=st.integers(3, 60))
def test_the_smallest_rectangle_is_trimeshs(seed: int, count: int) -> None:
    """Beside trimesh's `bounds.oriented_bounds_2D`, on points as flat and as far apart as they come."""
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(count, 2)) * 10 ** rng.uniform(-2, 3, 2)
    _, sides = oriented_bounds_2D(points)
    assert rectangle_mm(points) == pytest.approx((max(sides), min(sides)), rel=1e-9)
