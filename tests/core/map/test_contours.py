"""Contour lines: closed forms on a cone and a ramp, VTK's contours, and what is left out."""

from __future__ import annotations

import numpy as np
import pytest
import pyvista
from numpy.typing import NDArray

from core.map.contours import Contour, contours
from core.surface.surface import Surface

Floats = NDArray[np.float64]


def grid(count: int = 81, size: float = 100.0, seed: int = 0) -> Surface:
    """A flat square about the origin whose inner points are shaken, so that no level meets a vertex by design."""
    ticks = np.linspace(-size / 2, size / 2, count)
    x, y = (axis.ravel() for axis in np.meshgrid(ticks, ticks, indexing="ij"))
    inner = (abs(x) < size / 2 - 1e-9) & (abs(y) < size / 2 - 1e-9)
    shake = np.random.default_rng(seed).uniform(-0.2, 0.2, (2, len(x))) * size / count * inner
    row = np.arange(count * count).reshape(count, count)
    a, b, c, d = (part.ravel() for part in (row[:-1, :-1], row[1:, :-1], row[1:, 1:], row[:-1, 1:]))
    triangles = np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    return Surface(np.column_stack([x + shake[0], y + shake[1], 0 * x]), triangles)


def length(line: Contour) -> float:
    points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())


def everywhere(surface: Surface) -> NDArray[np.bool_]:
    return np.ones(len(surface.vertices), dtype=bool)


def test_a_cones_contours_are_circles() -> None:
    # Closed form: depth 5 - r / 10 is d on the circle of radius 10 (5 - d). Linear pieces cut inside it: at an edge of
    # 2 mm and radius 10 mm by at most edge^2 / (8 r) = 0.05 mm.
    sheet = grid()
    depth = 5.0 - np.hypot(*sheet.vertices[:, :2].T) / 10.0
    found = contours(sheet, depth, everywhere(sheet), np.array([1.0, 2.0, 4.0]))
    assert [line.level_mm for line in found] == [1.0, 2.0, 4.0]
    for line in found:
        radius = 10.0 * (5.0 - line.level_mm)
        assert line.closed
        np.testing.assert_allclose(np.hypot(*line.points[:, :2].T), radius, atol=0.1)
        assert length(line) == pytest.approx(2 * np.pi * radius, rel=5e-3)
        assert np.linalg.norm(line.points[0] - line.points[-1]) < 4.0  # runs on from its end to its beginning


def test_a_ramps_contours_run_from_rim_to_rim_and_are_straight() -> None:
    # Closed form: depth x / 10 is d along x = 10 d; linear, so exact.
    sheet = grid(31)
    (line,) = contours(sheet, sheet.vertices[:, 0] / 10.0, everywhere(sheet), np.array([1.23]))
    assert not line.closed
    np.testing.assert_allclose(line.points[:, 0], 12.3, atol=1e-9)
    assert (np.diff(line.points[:, 1]) > 0).all() or (np.diff(line.points[:, 1]) < 0).all()
    assert length(line) == pytest.approx(100.0, abs=1e-9)


def test_lengths_and_counts_agree_with_vtk() -> None:
    # Another library's contours of the same linear field, strips joined by its own filter.
    sheet = grid(61, seed=4)
    x, y = sheet.vertices[:, :2].T / 15.0
    depth = 2.0 * np.sin(x) * np.cos(1.3 * y) + 0.7 * x
    levels = np.array([-1.0, -0.3, 0.21, 1.1])
    faces = np.column_stack([np.full(len(sheet.triangles), 3), sheet.triangles]).ravel()
    witness = pyvista.PolyData(sheet.vertices, faces)
    witness["depth"] = depth
    found = contours(sheet, depth, everywhere(sheet), levels)
    for level in levels:
        mine = [line for line in found if line.level_mm == level]
        theirs = witness.contour([level], scalars="depth")
        assert sum(map(length, mine)) == pytest.approx(theirs.compute_cell_sizes()["Length"].sum(), rel=1e-9)
        assert len(mine) == theirs.connectivity().cell_data["RegionId"].max() + 1


def test_lines_stop_where_metal_is_not_judged() -> None:
    sheet = grid(41)
    judged = sheet.vertices[:, 0] > 0
    depth = np.where(judged, 5.0 - np.hypot(*sheet.vertices[:, :2].T) / 10.0, np.nan)
    (line,) = contours(sheet, depth, judged, np.array([3.0]))
    assert not line.closed
    assert np.isfinite(line.points).all()
    assert line.points[:, 0].min() >= -1.0
    assert length(line) == pytest.approx(np.pi * 20.0, rel=0.1)  # half the circle, less up to an edge at each end


def test_nothing_to_draw() -> None:
    sheet = grid(11)
    depth = sheet.vertices[:, 0]
    assert contours(sheet, depth, ~everywhere(sheet), np.array([1.0])) == ()
    assert contours(sheet, depth, everywhere(sheet), np.array([])) == ()
    assert contours(sheet, depth, everywhere(sheet), np.array([1e6])) == ()
