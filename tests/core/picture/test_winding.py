"""Inside and outside of outlines, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from core.picture.winding import wound


def ring(x: float, y: float, half: float, way: int = 1) -> tuple[np.ndarray, np.ndarray]:
    corners = np.array([[-1.0, -1], [1, -1], [1, 1], [-1, 1]])[::way] * half + [x, y]
    return corners, np.roll(corners, -1, axis=0)


def test_outlines_add_up_where_they_overlap_and_a_hole_takes_away() -> None:
    rings = [ring(0, 0, 2), ring(2, 0, 2), ring(-1, 0, 0.5, -1)]
    starts, ends = (np.concatenate(column) for column in zip(*rings, strict=True))
    points = np.array([[-1.9, 1.9], [1.0, 0.1], [3.9, 0.0], [-1.0, 0.2], [-0.4, 0.2], [5.0, 0.0], [0.0, 2.5]])
    assert wound(points, starts, ends).tolist() == [1, 2, 1, 0, 1, 0, 0]
    assert wound(points, ends, starts).tolist() == [-1, -2, -1, 0, -1, 0, 0]


@pytest.mark.parametrize("seed", range(3))
def test_a_star_shaped_ring_holds_what_lies_within_its_radius(seed: int) -> None:
    """Points on the ray of each corner, a little within and without: once round, and not at all."""
    rng = np.random.default_rng(seed)
    turn, radius = np.sort(rng.uniform(0, 2 * np.pi, 60)), rng.uniform(1.0, 3.0, 60)
    corners = radius[:, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    ends = np.roll(corners, -1, axis=0)
    assert (wound(corners * (1 - 1e-6), corners, ends) == 1).all()
    assert (wound(corners * (1 + 1e-6), corners, ends) == 0).all()
