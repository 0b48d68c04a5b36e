"""Hatch and dots cut to an outline, for drawing where there are no patterns. Needs numpy only.

The same measures as the patterns in `drawing.svg`, in grains: a grain is the smaller side of a drawing over GRAINS.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

GRAINS = 48
STRIPE, STRIPES_APART, DOT, DOTS_APART = 0.25, 1.0, 0.13, 0.6  # widths, a dot's radius, distances


def hatch_lines(outline: Floats, apart: float) -> Floats:
    """Slanting lines (from bottom left to top right with y down) inside a closed ``outline`` (k, 2), as (s, 2, 2).

    Inside by the even-odd rule, so the outline may be concave. Lines lie at the same places whatever the outline.

    >>> square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    >>> hatch_lines(square, 10.0).round(6).tolist()
    []
    >>> hatch_lines(square + [4.0, 4.0], 2.0**0.5).round(6).tolist()[0]
    [[4.0, 5.0], [5.0, 4.0]]
    """
    across, along = (outline @ np.array([[1.0, 1.0], [1.0, -1.0]]) / np.sqrt(2.0)).T
    levels = (np.arange(np.floor(across.min() / apart), np.ceil(across.max() / apart) + 1) + 0.5) * apart
    pairs = _crossings(across, along, levels)
    at = levels[pairs[:, 0].astype(np.int64)]
    ends = [np.stack([at + pairs[:, k], at - pairs[:, k]], axis=1) / np.sqrt(2.0) for k in (1, 2)]
    return np.stack(ends, axis=1)


def dot_places(outline: Floats, apart: float) -> Floats:
    """Middles (d, 2) of an even grid inside a closed ``outline`` (k, 2), by the even-odd rule.

    >>> dot_places(np.array([[0.0, 0], [2, 0], [2, 1], [0, 1]]), 1.0).tolist()
    [[0.5, 0.5], [1.5, 0.5]]
    """
    x, y = outline.T
    rows = (np.arange(np.floor(y.min() / apart), np.ceil(y.max() / apart) + 1) + 0.5) * apart
    pairs = _crossings(y, x, rows)
    columns = (np.arange(np.floor(x.min() / apart), np.ceil(x.max() / apart) + 1) + 0.5) * apart
    inside = (columns > pairs[:, 1:2]) & (columns < pairs[:, 2:3])
    k, column = np.nonzero(inside)
    return np.stack([columns[column], rows[pairs[k, 0].astype(np.int64)]], axis=1)


def _crossings(level_of: Floats, place: Floats, levels: Floats) -> Floats:
    """Where a closed outline is inside along each level: rows (level's row, from, to), (p, 3)."""
    a, b = level_of, np.roll(level_of, -1)
    low, high = np.minimum(a, b), np.maximum(a, b)
    row, side = np.nonzero((levels[:, None] > low) & (levels[:, None] <= high))
    share = (levels[row] - a[side]) / (b - a)[side]
    at = place[side] + share * (np.roll(place, -1) - place)[side]
    order = np.lexsort((at, row))
    ends: Floats = np.column_stack([row[order][::2], at[order][::2], at[order][1::2]])
    return ends
