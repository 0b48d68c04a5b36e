"""Volume between the panel and the finished shape: exact for two sheets of flat triangles.

Each pair of triangles bounds a prism whose three sides are ruled (bilinear) patches, so neighbours
share a side to the last bit and nothing is counted twice or left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Ints, blocks, cross, dot, normalised
from ..threads import each
from .sheets import Sheets


@dataclass(frozen=True)
class Volumes:
    """Volume in each pair of triangles, (t,) mm3: ``fill`` below the target and ``cut`` above it, both >= 0."""

    fill_mm3: Floats
    cut_mm3: Floats

    @property
    def signed_mm3(self) -> Floats:
        """Fill less cut, (t,) mm3."""
        signed: Floats = self.fill_mm3 - self.cut_mm3
        return signed


def volumes(sheets: Sheets) -> Volumes:
    """Fill and cut in each pair of triangles of ``sheets``, mm3.

    Where the panel crosses the target inside a triangle, the smaller part is that of heights linear
    over the triangle, and the other is what makes fill less cut exact.

    >>> square = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    >>> two = Sheets(square, square + [0, 0, 2.0], np.full(3, 2.0), np.array([[0, 1, 2]]), np.array([0]))
    >>> volumes(two).fill_mm3, volumes(two).cut_mm3
    (array([1.]), array([0.]))
    """
    fill, cut = np.empty((2, len(sheets.triangles)))

    def fill_in(rows: slice) -> None:
        fill[rows], cut[rows] = _fill_and_cut(sheets, sheets.triangles[rows].T)

    each(fill_in, blocks(len(sheets.triangles)))
    return Volumes(fill, cut)


def _fill_and_cut(sheets: Sheets, corner: Ints) -> tuple[Floats, Floats]:
    """Fill and cut (t,) of the pairs of triangles with corners ``corner`` (3, t), mm3."""
    (p0, p1, p2), (f0, f1, f2) = (tuple(points[k] for k in corner) for points in (sheets.panel, sheets.feet))
    signed, base = _prism(p0, p1, p2, f0, f1, f2)
    heights = sheets.depth_mm[corner]
    below, above = (heights >= 0).all(axis=0), (heights <= 0).all(axis=0)
    fill, cut = np.where(below, signed, 0.0), np.where(above & ~below, -signed, 0.0)
    mixed = np.flatnonzero(~below & ~above)
    # Depth counts along the target's normals, and so does the area that it stands on: not the panel's own, if tilted.
    sign = np.where(heights[:, mixed] >= 0, 1.0, -1.0)[:, :, None]
    up = normalised(sum(sign[k] * (f - p)[mixed] for k, (p, f) in enumerate(((p0, f0), (p1, f1), (p2, f2)))))
    fill[mixed], cut[mixed] = linear_parts(signed[mixed], np.abs(dot(base[mixed], up)) / 2, heights[:, mixed].T)
    return fill, cut


def _prism(p0: Floats, p1: Floats, p2: Floats, f0: Floats, f1: Floats, f2: Floats) -> tuple[Floats, Floats]:
    """Signed volume (t,) between triangles p and f with ruled sides, and the vector (t, 3) that it has for a base.

    Points (1-s) p + s f fill the prism; integrating the Jacobian over s and the triangle gives
    ((N_p + N_f) / 2 - N_d / 6) . (d0 + d1 + d2) / 6, with d = f - p and N the cross products of sides.
    """
    normal_p = cross(p1 - p0, p2 - p0)
    d0, d1, d2 = f0 - p0, f1 - p1, f2 - p2
    normal_f = cross(f1 - f0, f2 - f0)
    normal_d = cross(d1 - d0, d2 - d0)
    base: Floats = (normal_p + normal_f) / 2 - normal_d / 6
    return dot(base, d0 + d1 + d2) / 6, base


def linear_parts(signed: Floats, area: Floats, heights: Floats) -> tuple[Floats, Floats]:
    """Fill and cut of triangles whose ``heights`` (t, 3) are of both signs.

    One corner lies alone on its side: its part is area p^3 / (3 (p+q) (p+r)), exact for linear heights.
    """
    order = np.sort(heights, axis=1)
    alone_is_low = order[:, 1] > 0
    p = np.where(alone_is_low, -order[:, 0], order[:, 2])
    q = np.where(alone_is_low, order[:, 1], -order[:, 1])
    r = np.where(alone_is_low, order[:, 2], -order[:, 0])
    part = area * p * (p / (p + q)) * (p / (p + r)) / 3  # ratios: the cube of a tiny depth would underflow
    part = np.maximum(part, np.where(alone_is_low, -signed, signed))  # neither part falls below 0 by rounding
    return np.where(alone_is_low, signed + part, part), np.where(alone_is_low, part, part - signed)
