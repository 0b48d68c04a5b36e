"""What areas share of a line-up's uncertainty, against panels that are really moved, seeded."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.depth.placing import Placing
from core.depth.shifts import shared_shifts_mm2
from core.depth.survey import Rules, Survey, survey
from core.surface.condition import mend
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

MIDDLES = ((40.0, 40.0), (150.0, 50.0), (260.0, 45.0))


def surveyed(placing: Placing | None) -> tuple[Surface, Survey]:
    """Three lows and a high in a row on a flat sheet of 300 by 90 mm."""
    x, y = grid_points(300.0, 90.0, 3.0)
    z = cosine_dent(x, y, (95, 45), (18, 18), 1.0)
    for k, middle in enumerate(MIDDLES):
        z = z - cosine_dent(x, y, middle, (30, 30), 2.0 + k)
    panel, _ = mend(sheet(x, y, z), "panel")
    target = flat_target(300.0, 90.0)
    return panel, survey(panel, target, Tree(target), Rules(), placing=placing)


def moved_depths(panel: Surface, found: Survey, placing: Placing, rng: np.random.Generator) -> Floats:
    """Mean change of depth over each low, (n,) mm, when the panel is turned and shifted as the placing may be wrong."""
    six = rng.multivariate_normal(np.zeros(6), placing.covariance)
    turned = Rotation.from_rotvec(six[:3]).apply(panel.vertices - placing.centre) + placing.centre + six[3:]
    fallen = panel.vertices[:, 2] - turned[:, 2]  # the target is flat and level
    at = fallen[panel.triangles].mean(axis=1)
    lows = [place for place, area in enumerate(found.areas.found, start=1) if area.kind == "low"]
    inside = [found.areas.hemmed == place for place in lows]
    return np.array([np.average(at[rows], weights=panel.areas[rows]) for rows in inside])


def test_areas_move_as_the_panel_does() -> None:
    """Rigid motions drawn from the covariance: the sample covariance of 4 000 is known to 0.05 of the sizes."""
    covariance = np.diag([1e-4, 4e-4, 1e-4, 0.05, 0.05, 0.02]) ** 2
    covariance[5, 5] = 0.02**2
    placing = Placing(covariance, np.array([150.0, 45.0, 0.0]))
    panel, found = surveyed(placing)
    rng = np.random.default_rng(5)
    drawn = np.array([moved_depths(panel, found, placing, rng) for _ in range(4000)])
    stated = shared_shifts_mm2(panel, found.areas, placing)
    assert stated.shape == (3, 3)
    size = np.sqrt(np.diag(stated))
    # The slope of a dent leans the sideways freedoms as well, by turns that cancel out around it.
    assert np.abs(np.cov(drawn.T) - stated).max() < 0.06 * size.max() ** 2
    order = np.argsort([area.deepest_point_mm[0] for area in found.areas.of_kind("low")])
    assert stated[order[0], order[2]] < 0 < stated[order[0], order[0]]  # one end up, the other down


def test_one_figure_is_shared_by_all() -> None:
    """By hand: without a placing every low is off by the same line-up."""
    panel, found = surveyed(None)
    assert shared_shifts_mm2(panel, found.areas, None) == pytest.approx(np.full((3, 3), 0.05**2))
    assert shared_shifts_mm2(panel, found.areas, None, "high") == pytest.approx(np.full((1, 1), 0.05**2))
