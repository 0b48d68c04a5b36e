"""Which lines on a panel were meant: swages are, straight or curved; rings, short ridges and dents on them are not."""

from __future__ import annotations

import numpy as np
import pytest

from core.shape.bend import Spreading
from core.shape.design_lines import Lines
from core.surface.nearest import Tree
from tests.core.shapes import grid_points, sheet

X, Y = (each - half for each, half in zip(grid_points(500, 400, 4.0), (250, 200), strict=True))


def meant(z, asked):
    surface = sheet(X, Y, z)
    (bend,) = Spreading(surface).bends((10.0,))
    lines = Lines.of(surface, Tree(surface), bend.tensor, bend.normals, bend.share < 0.35, 10.0)
    return lines.designed(asked.ravel(), 1e-3)[asked.ravel()]


def ridge(from_line, high=5.0, width=15.0):
    return high * np.exp(-((from_line / width) ** 2) / 2)


SLANTED = (Y - 0.3 * X) / np.hypot(1, 0.3)
ARCH = np.hypot(X, Y + 300) - 300


@pytest.mark.parametrize("line", [SLANTED, ARCH], ids=["straight", "arch of radius 300"])
def test_a_swage_is_meant_all_along(line):
    assert meant(ridge(line), np.abs(line) < 5).mean() > 0.97


def test_a_ring_is_not_meant():
    """A dent's rim of radius 60 goes on alike for ever, but turns."""
    off = np.hypot(X, Y) - 60
    assert not meant(ridge(off), np.abs(off) < 5).any()


def test_a_ridge_that_ends_inside_is_not_meant():
    assert not meant(ridge(SLANTED) * np.exp(-((X / 40) ** 2) / 2), (np.abs(SLANTED) < 5) & (np.abs(X) < 40)).any()


def test_a_swage_that_is_pressed_flat_is_not_meant_there_and_meant_elsewhere():
    z = ridge(SLANTED) * (1 - 0.8 * np.exp(-((X / 40) ** 2) / 2))
    on = np.abs(SLANTED) < 5
    assert not meant(z, on & (np.abs(X) < 15)).any()
    assert meant(z, on & (np.abs(X) > 120)).mean() > 0.95
