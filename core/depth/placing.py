"""How well a panel is placed: the covariance of its six freedoms, and what that makes uncertain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Surface, cross
from ..surface.weights import blended_normals
from .depth import Depth


@dataclass(frozen=True, eq=False)
class Placing:
    """Covariance (6, 6) of a small turn (radians) about ``centre`` (3,) mm and a small shift (mm), in that order.

    A point p of the sheet with normal n moves along its normal by (p x n, n) times the six; the mean of
    that over an area is what the whole area is wrong by.
    """

    covariance: Floats
    centre: Floats

    def at(self, points: Floats, normals: Floats) -> Floats:
        """Standard uncertainty along the normal at ``points`` (n, 3) mm with unit ``normals`` (n, 3), (n,) mm."""
        rows = motion_jacobian(points - self.centre, normals)
        variance = np.einsum("ij,jk,ik->i", rows, self.covariance, rows)
        uncertainty: Floats = np.sqrt(np.maximum(variance, 0.0))
        return uncertainty

    def of_depths(self, depth: Depth, target: Surface) -> Floats:
        """Standard uncertainty of depths (n,) mm below ``target``; nan where not judged.

        Along the shape's smooth normals at the feet. A scan's own normals are a degree off by noise, and with them a
        panel that may slide by 5 mm would seem to be out by a tenth of a millimetre everywhere.
        """
        judged = depth.judged
        held = np.full(len(judged), np.nan)
        feet, triangle = depth.feet[judged], depth.triangle[judged]
        held[judged] = self.at(feet, blended_normals(feet, triangle, target))
        return held

    def lever(self, points: Floats, normals: Floats, areas_mm2: Floats) -> Floats:
        """How far each of the six freedoms (6,) moves the volume over ``points`` that stand for ``areas_mm2`` (n,)."""
        lever: Floats = areas_mm2 @ motion_jacobian(points - self.centre, normals)
        return lever

    def of_volume(self, points: Floats, normals: Floats, areas_mm2: Floats) -> float:
        """Standard uncertainty of the volume over ``points`` that stand for ``areas_mm2`` (n,), mm3."""
        lever = self.lever(points, normals, areas_mm2)
        return float(np.sqrt(max(float(lever @ self.covariance @ lever), 0.0)))


def motion_jacobian(points: Floats, normals: Floats) -> Floats:
    """Rows (n, 6) of (p x n, n): how far each of the six freedoms moves a point along its normal.

    Source: Chen & Medioni 1991, doi:10.1109/ROBOT.1991.132043; Low 2004, UNC TR04-004.
    """
    rows: Floats = np.concatenate([cross(points, normals), normals], axis=1)
    return rows
