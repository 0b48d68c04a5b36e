"""Fill left once the metal is raised to a limit: against the clipped spherical cap and a brute-force twin."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from core.depth.raised import raised_mm3
from core.depth.sheets import Sheets
from core.depth.survey import Rules, survey
from core.depth.volume import volumes
from core.surface.condition import mend
from core.surface.nearest import Tree
from tests.core.shapes import flat_target, grid_points, sheet


def cap_mm3(radius: float, deep: float) -> float:
    """Handbook formula for a spherical cap, pi h^2 (3 R - h) / 3."""
    return np.pi * deep**2 * (3 * radius - deep) / 3


@pytest.mark.parametrize("deep", [2.5, 3.3, 5.0, 9.0])
@pytest.mark.parametrize("limit", [3.2, 1.0])
def test_a_spherical_cap_clipped(deep: float, limit: float) -> None:
    """A cap of mouth radius 60 less the cap deeper than the limit (handbook), on facets of 1.5 mm: within 0.3 %."""
    radius = (60.0**2 + deep**2) / (2 * deep)
    x, y = grid_points(180.0, 180.0, 1.5)
    r2 = (x - 90) ** 2 + (y - 90) ** 2
    z = -np.maximum(0.0, np.sqrt(np.maximum(radius**2 - r2, 0.0)) - (radius - deep))
    panel, _ = mend(sheet(x, y, z), "panel")
    target = flat_target(180.0, 180.0)
    found = survey(panel, target, Tree(target), Rules())
    assert len(found.areas.found) == 1
    wanted = cap_mm3(radius, deep) - (cap_mm3(radius, deep - limit) if deep > limit else 0.0)
    assert raised_mm3(found.sheets, found.areas.hemmed, 1, limit)[1] == pytest.approx(wanted, rel=3e-3)


def test_on_a_curved_shape_the_rest_is_a_shell() -> None:
    """Between spheres of 500 and 494 mm, seen from the target's side: raised to 3.2 mm, the shell 500 to 496.8 (solid
    geometry). A share of the whole volume by depth alone would be 0.6 % off."""
    turn = np.linspace(0.0, 0.2, 41)
    u, v = (g.ravel() for g in np.meshgrid(turn, np.pi / 2 + turn))
    way = np.column_stack([np.cos(u) * np.sin(v), np.sin(u) * np.sin(v), np.cos(v)])
    k = np.arange(40 * 40) // 40 * 41 + np.arange(40 * 40) % 40
    triangles = np.concatenate([np.column_stack([k, k + 41, k + 1]), np.column_stack([k + 1, k + 41, k + 42])])
    shell = Sheets(494.0 * way, 500.0 * way, np.full(len(way), 6.0), triangles, np.arange(len(triangles)))
    if volumes(shell).signed_mm3.sum() < 0:
        shell = Sheets(shell.panel, shell.feet, shell.depth_mm, triangles[:, ::-1], shell.parent)
    ones = np.ones(len(triangles), dtype=np.int64)
    whole, raised = (float(raised_mm3(shell, ones, 1, limit)[1]) for limit in (9.0, 3.2))
    assert raised / whole == pytest.approx((500**3 - 496.8**3) / (500**3 - 494**3), rel=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**31))
def test_any_triangle_as_many_small_ones(seed: int) -> None:
    """Brute-force twin: over a flat target, the lesser of limit and depth summed over 40 000 parts of a triangle."""
    rng = np.random.default_rng(seed)
    corners = np.column_stack([rng.uniform(-20, 20, (3, 2)), np.zeros(3)])
    normal = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    if normal[2] < 0:
        corners = corners[::-1]
    depth, limit = rng.uniform(-2, 8, 3), float(rng.uniform(0.5, 6))
    one = Sheets(corners - np.outer(depth, [0, 0, 1.0]), corners, depth, np.array([[0, 1, 2]]), np.array([0]))
    n = 200
    i, j = (g.ravel() for g in np.meshgrid(np.arange(n), np.arange(n)))
    up, down = i + j < n, i + j < n - 1
    a = np.concatenate([(i[up] + 1 / 3) / n, (i[down] + 2 / 3) / n])
    b = np.concatenate([(j[up] + 1 / 3) / n, (j[down] + 2 / 3) / n])
    at = depth[0] + a * (depth[1] - depth[0]) + b * (depth[2] - depth[0])
    wanted = abs(normal[2]) / 2 * np.minimum(at, limit).mean()
    assert raised_mm3(one, np.array([1]), 1, limit)[1] == pytest.approx(wanted, abs=abs(normal[2]) / 2 * 1e-3)
