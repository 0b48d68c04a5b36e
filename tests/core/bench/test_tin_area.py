"""The metal to tin or key around a fill, against areas known by geometry: rings, strips, and what a slit cuts off.

Sources: ring pi ((r + w)^2 - r^2) and Steiner's formula, perimeter w + pi w^2, for a convex area (geometry).
"""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.tin_area import margin_area_mm2
from core.surface.surface import Surface
from tests.core.shapes import grid_points, irregular, sheet

MARGIN = 12.7


def disc_share(panel: Surface, centre: float, radius: float) -> float:
    """Margin found around a disc, as a share of the ring around a disc of the area that its vertices stand for."""
    inside = np.hypot(panel.vertices[:, 0] - centre, panel.vertices[:, 1] - centre) <= radius
    own = np.sqrt(panel.vertex_areas[inside].sum() / np.pi)
    return margin_area_mm2(panel, inside, MARGIN) / (np.pi * ((own + MARGIN) ** 2 - own**2))


@pytest.mark.parametrize("radius", [15.0, 30.0, 60.0])
def test_a_ring_around_a_disc_on_a_scanned_sheet(radius: float) -> None:
    """Triangles of 1 mm, as a scanner leaves them. Ways along edges may run 6 % long, so the ring may be that much
    narrower, and no more; it is never wider by more than a vertex's own share."""
    size = 2 * (radius + MARGIN) + 12
    panel = irregular(size, size, 1.0, np.random.default_rng(5), lambda x, y: 0 * x)
    assert 0.93 < disc_share(panel, size / 2, radius) < 1.01


def test_a_ring_on_a_grid_cut_along_one_diagonal() -> None:
    """The worst case: across the diagonals a way along edges is 41 % longer than the straight one."""
    panel = sheet(*grid_points(100.0, 100.0, 1.0), np.zeros((101, 101)))
    assert 0.90 < disc_share(panel, 50.0, 25.0) < 1.01


@pytest.mark.parametrize("bend", [0.0, 1 / 40])
def test_a_strip_beside_a_straight_edge_is_exact(bend: float) -> None:
    """Along grid lines nothing runs long: the left half's margin is a strip, flat or rolled to a radius of 40 mm.

    Vertices within 12.7 mm at a step of 0.5 stand for 0.5 (25 + 1/2) mm, less the half of the edge's own cell."""
    x, y = grid_points(80.0, 60.0, 0.5)
    panel = sheet(np.sin(x * bend) / bend, y, np.cos(x * bend) / bend) if bend else sheet(x, y, 0 * x)
    inside = x.ravel() <= 40.0
    assert margin_area_mm2(panel, inside, MARGIN) == pytest.approx(12.5 * 60, rel=1e-3)


def test_it_ends_at_the_rim() -> None:
    """A half disc at the panel's edge has half a ring: nothing is tinned beyond the metal."""
    panel = sheet(*grid_points(100.0, 100.0, 1.0), np.zeros((101, 101)))
    x, y = panel.vertices[:, 0], panel.vertices[:, 1]
    whole = margin_area_mm2(panel, np.hypot(x - 50, y - 50) <= 20, MARGIN)
    half = margin_area_mm2(panel, np.hypot(x - 50, y) <= 20, MARGIN)
    assert half == pytest.approx(whole / 2, rel=0.03)
    assert margin_area_mm2(panel, x >= 0, MARGIN) == 0.0


def test_it_does_not_jump_a_slit() -> None:
    """A slit of 2 mm right beside the area: the metal behind it is 50 mm away along the sheet."""
    panel = sheet(*grid_points(100.0, 100.0, 1.0), np.zeros((101, 101)))
    middle = panel.vertices[panel.triangles].mean(axis=1)
    slit = panel.part(~((abs(middle[:, 0] - 51) < 1) & (middle[:, 1] > 1)))
    x, y = slit.vertices[:, 0], slit.vertices[:, 1]
    inside = (x <= 50) & (x >= 40) & (y >= 60)
    behind = margin_area_mm2(slit, inside, MARGIN)
    # To the left a strip 40 mm high; below, two quarter rounds less, as the slit closes the right side.
    assert behind == pytest.approx(12.5 * 40 + 12.5 * 10 + np.pi * MARGIN**2 / 4, rel=0.06)


def test_another_sheet_close_behind_is_not_reached() -> None:
    """An inner skin 4 mm behind is not tinned."""
    front = sheet(*grid_points(60.0, 60.0, 1.0), np.zeros((61, 61)))
    n = len(front.vertices)
    both = Surface(
        np.concatenate([front.vertices, front.vertices - [0, 0, 4.0]]),
        np.concatenate([front.triangles, front.triangles + n]),
    )
    inside = np.hypot(front.vertices[:, 0] - 30, front.vertices[:, 1] - 30) <= 10
    alone = margin_area_mm2(front, inside, MARGIN)
    assert margin_area_mm2(both, np.concatenate([inside, np.zeros(n, dtype=bool)]), MARGIN) == pytest.approx(alone)


def test_no_width_and_no_area_have_no_margin() -> None:
    panel = sheet(*grid_points(20.0, 20.0, 1.0), np.zeros((21, 21)))
    inside = panel.vertices[:, 0] < 5
    assert margin_area_mm2(panel, inside, 0.0) == 0.0
    assert margin_area_mm2(panel, ~inside & inside, MARGIN) == 0.0
