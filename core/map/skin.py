"""The panel's surface as something to write on: which way is up, and flat strokes laid onto it."""

from __future__ import annotations

import numpy as np

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Surface, normalised

_LYING = 0.8  # a panel whose normal is this near to the vertical is read from above, with y up


def up_of(normals: Floats) -> Floats:
    """What is up on a panel with triangle normals times areas (m, 3): z, or y where it lies flat; (3,).

    >>> up_of(np.array([[0.0, 5.0, 1.0]])).tolist(), up_of(np.array([[0.0, 0.1, 3.0]])).tolist()
    ([0.0, 0.0, 1.0], [0.0, 1.0, 0.0])
    """
    middle = normalised(normals.sum(axis=0)[None])[0]
    return np.array([0.0, 1.0, 0.0]) if abs(middle[2]) > _LYING else np.array([0.0, 0.0, 1.0])


def frame(normals: Floats, up: Floats) -> tuple[Floats, Floats]:
    """What is right and up (k, 3) to a reader in front of places with unit ``normals`` (k, 3)."""
    right = np.cross(up, normals)
    is_one = np.linalg.norm(right, axis=1, keepdims=True) > 1e-6
    right = normalised(np.where(is_one, right, np.cross([1.0, 0, 0], normals)))
    return right, np.cross(normals, right)


def near(panel: Surface, points: Floats, reach_mm: float) -> Ints:
    """Rows of the triangles of ``panel`` that come within about ``reach_mm`` of any of ``points`` (k, 3)."""
    low = panel.box[0] - 2 * reach_mm
    size = np.array([1 << 40, 1 << 20, 1], dtype=np.int64)
    offsets = np.stack(np.meshgrid(*[[-1, 0, 1]] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    asked = np.floor((points - low) / reach_mm).astype(np.int64)
    cells = np.unique(np.unique(asked @ size)[:, None] + (offsets @ size))
    mine = np.floor((panel.vertices - low) / reach_mm).astype(np.int64) @ size
    return np.flatnonzero(np.isin(mine, cells)[panel.triangles].any(axis=1))


class Skin:
    """The panel's triangles near to where something is to be written."""

    def __init__(self, panel: Surface, points: Floats, reach_mm: float) -> None:
        self._panel = panel
        self._tree = Tree(panel, near(panel, points, reach_mm))

    def laid(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """The surface's nearest points to ``points`` (k, 3), its unit normals there (k, 3), and how far off (k,) mm."""
        found = self._tree.nearest(points)
        if len(found.triangle) and found.triangle[0] < 0:
            return points, np.zeros_like(points), found.distance_mm
        corners = self._panel.triangles[found.triangle]
        return found.point, normalised(self._panel.vertex_normals[corners].mean(axis=1)), found.distance_mm
