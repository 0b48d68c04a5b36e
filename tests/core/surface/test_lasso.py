"""A lasso: checked against a winding number by summed angles (its definition) and by turning the sheet over."""

from __future__ import annotations

import numpy as np

from core.surface.lasso import inside_lasso

OUTLINE = np.array([[0.1, 0.1], [0.9, 0.2], [0.5, 0.5], [0.8, 0.9], [0.2, 0.8]])  # with a dent


def sheet(n: int = 20) -> tuple[np.ndarray, np.ndarray]:
    grid = np.linspace(0, 1, n)
    points = np.stack(np.meshgrid(grid, grid, indexing="ij"), axis=-1).reshape(-1, 2)
    i = np.arange((n - 1) * n).reshape(n - 1, n)[:, :-1].ravel()
    triangles = np.concatenate([np.stack([i, i + n, i + 1], 1), np.stack([i + 1, i + n, i + n + 1], 1)])
    return np.column_stack([points, np.zeros(len(points))]), triangles


def turns(spot: np.ndarray) -> float:
    """How often the outline goes around a spot: the sum of the angles under which its sides are seen."""
    to = OUTLINE - spot
    angle = np.arctan2(to[:, 1], to[:, 0])
    step = np.diff(np.append(angle, angle[0]))
    return float(((step + np.pi) % (2 * np.pi) - np.pi).sum() / (2 * np.pi))


def test_inside_is_what_the_outline_goes_around() -> None:
    points, triangles = sheet()
    expected = np.array([round(abs(turns(p[:2]))) == 1 for p in points])
    assert 50 < expected.sum() < 350
    np.testing.assert_array_equal(inside_lasso(points, triangles, np.eye(4), OUTLINE), expected)


def test_perspective_and_what_lies_behind_the_viewer() -> None:
    """A camera at the origin looking along -z (the pinhole formula: x over depth): twice as far lands at half."""
    points, triangles = sheet()
    look = np.array([[1.0, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, -1, 0]])
    flat = inside_lasso(points, triangles, np.eye(4), OUTLINE)
    for depth in (0.5, 1.0, 2.0):
        there = points * depth + [0, 0, -depth]
        np.testing.assert_array_equal(inside_lasso(there, triangles, look, OUTLINE), flat)
    assert not inside_lasso(-(points + [0, 0, -1.0]), triangles, look, OUTLINE).any()


def test_the_far_side_of_a_folded_sheet_is_left_out() -> None:
    points, triangles = sheet()
    n = len(points)
    both = np.concatenate([points, points - [0, 0, 0.01]])
    flange = triangles[: len(triangles) // 2, ::-1] + n
    back = inside_lasso(both, np.concatenate([triangles, flange]), np.eye(4), OUTLINE)
    np.testing.assert_array_equal(back[:n], inside_lasso(points, triangles, np.eye(4), OUTLINE))
    assert not back[n:].any()


def test_a_scan_that_is_inside_out_can_be_marked_too() -> None:
    points, triangles = sheet()
    turned = inside_lasso(points, triangles[:, ::-1], np.eye(4), OUTLINE)
    np.testing.assert_array_equal(turned, inside_lasso(points, triangles, np.eye(4), OUTLINE))
