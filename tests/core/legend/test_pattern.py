"""Hatch and dots stay inside their outline and fill it: the shoelace formula and a brute-force test of inside."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from core.legend.pattern import dot_places, hatch_lines

Floats = NDArray[np.float64]
TURN = np.linspace(0, 2 * np.pi, 60, endpoint=False)
OUTLINES = {
    "square": np.array([[3.0, 4], [23, 4], [23, 24], [3, 24]]),
    "horseshoe": np.array([[0.0, 0], [30, 0], [30, 30], [20, 30], [20, 10], [10, 10], [10, 30], [0, 30]]),
    "star": np.column_stack([np.cos(TURN), np.sin(TURN)]) * (20 + 12 * np.cos(5 * TURN))[:, None] - 7,
}


def shoelace(outline: Floats) -> float:
    x, y = outline.T
    return abs(float(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2


def inside(points: Floats, outline: Floats) -> NDArray[np.bool_]:
    """Brute force: the angles to the corners add up to a full turn."""
    a = outline[None] - points[:, None]
    b = np.roll(a, -1, axis=1)
    turn = np.arctan2(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0], (a * b).sum(axis=2))
    return np.abs(turn.sum(axis=1)) > np.pi


@pytest.mark.parametrize("name", OUTLINES)
def test_hatch_fills_its_outline_and_no_more(name: str) -> None:
    outline, apart = OUTLINES[name], 0.05
    lines = hatch_lines(outline, apart)
    length = np.linalg.norm(lines[:, 1] - lines[:, 0], axis=1)
    # Lines as far apart as they are wide cover the area (midpoint rule).
    assert length.sum() * apart == pytest.approx(shoelace(outline), rel=2e-3)
    kept = lines[length > 0.1]
    assert inside(kept.mean(axis=1)[::7], outline).all()
    just_past = kept[:, 1] + (kept[:, 1] - kept[:, 0]) / length[length > 0.1, None] * 0.02
    assert not inside(just_past[::7], outline).any()
    np.testing.assert_allclose((lines[:, 1] - lines[:, 0]).sum(axis=1), 0.0, atol=1e-9)  # all at 45 degrees


@pytest.mark.parametrize("name", OUTLINES)
def test_dots_are_all_grid_points_inside(name: str) -> None:
    outline = OUTLINES[name]
    places = dot_places(outline, 1.0)
    ticks = np.arange(-60, 60) + 0.5
    grid = np.stack(np.meshgrid(ticks, ticks), axis=-1).reshape(-1, 2)
    wanted = grid[inside(grid, outline)]
    assert {tuple(p) for p in places.round(6).tolist()} == {tuple(p) for p in wanted.round(6).tolist()}


def test_patterns_do_not_move_with_the_outline() -> None:
    square = OUTLINES["square"]
    a, b = hatch_lines(square, 2.0), hatch_lines(square + [5.0, 0.0], 2.0)
    offsets = [np.unique(((lines[:, 0].sum(axis=1)) / np.sqrt(2) / 2.0 % 1.0).round(6)) for lines in (a, b)]
    np.testing.assert_allclose(offsets[0], offsets[1])
    assert len(offsets[0]) == 1
