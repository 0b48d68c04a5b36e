"""What is left to fill once the metal is brought up to a limit: the integral of the lesser of depth and limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..surface.surface import Floats, Ints, blocks, cross
from .sheets import Sheets
from .volume import linear_parts, volumes


def raised_mm3(sheets: Sheets, of_triangle: Ints, count: int, limit_mm: float) -> Floats:
    """Fill, mm3, in each of ``count`` areas (count + 1, the first in none) with no metal deeper than ``limit_mm``.

    ``of_triangle`` (m,): for each of the panel's triangles its area from 1, or 0. Exact for depth that is linear over
    each triangle of ``sheets``, as their volumes are: deeper corners are moved up to the limit, and what that cuts off
    where the limit crosses a triangle is put back. Fill less cut, as the areas' own volumes: noise averages out. On a
    scan so rough that noise crosses the limit it comes out low, by at most 0.4 of the noise over that strip.

    >>> square = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    >>> pit = Sheets(square, square + [0, 0, 4.0], np.full(3, 4.0), np.array([[0, 1, 2]]), np.array([0]))
    >>> raised_mm3(pit, np.array([1]), 1, 3.0).tolist(), raised_mm3(pit, np.array([1]), 1, 9.0).tolist()
    ([0.0, 1.5], [0.0, 2.0])
    """
    share = np.where(sheets.depth_mm > limit_mm, limit_mm / np.maximum(sheets.depth_mm, limit_mm), 1.0)
    lifted = replace(
        sheets,
        panel=sheets.feet + share[:, None] * (sheets.panel - sheets.feet),
        depth_mm=np.minimum(sheets.depth_mm, limit_mm),
    )
    fill = volumes(lifted).signed_mm3 + _cut_off(lifted, sheets.depth_mm - limit_mm)
    raised: Floats = np.bincount(of_triangle[sheets.parent], fill, minlength=count + 1).astype(np.float64)
    return raised


def _cut_off(lifted: Sheets, beyond_mm: Floats) -> Floats:
    """What the lesser of depth and limit holds above the flat of the lifted corners, (t,) mm3."""
    lost = np.zeros(len(lifted.triangles))
    for rows in blocks(len(lost)):
        corners = lifted.triangles[rows]
        beyond = beyond_mm[corners]
        mixed = np.flatnonzero((beyond > 0).any(axis=1) & (beyond < 0).any(axis=1))
        a, b, c = (lifted.feet[corners[mixed, k]] for k in range(3))
        area, beyond = np.linalg.norm(cross(b - a, c - a), axis=1) / 2, beyond[mixed]
        deep, _ = linear_parts(area * beyond.mean(axis=1), area, beyond)
        lost[rows][mixed] = area * np.maximum(beyond, 0.0).mean(axis=1) - deep
    return lost
