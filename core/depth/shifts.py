"""What the areas' depths are wrong by together: the panel's place is the same for all of them."""

from __future__ import annotations

import numpy as np

from ..surface.surface import Floats, Surface
from .areas import Area, Areas
from .placing import Placing


def shared_shifts_mm2(panel: Surface, areas: Areas, placing: Placing | None, kind: str = "low") -> Floats:
    """Covariance (n, n), mm2, of what the mean depths of the areas of ``kind`` are wrong by, in the areas' order.

    Each area's own is its ``offset_mm``. Without a ``placing`` all move as one; with one, a panel that may be tilted
    lies low here and high there, and the areas move together as its six freedoms move them. What a finished shape that
    was made here is off by, areas share that lie on the same place of it.
    """
    picked = [(place, area) for place, area in enumerate(areas.found, start=1) if area.kind == kind]
    levers, own = _shape_levers_mm(areas, picked), np.array([area.offset_mm for _, area in picked])
    own = np.sqrt(np.maximum(own**2 - (levers**2).sum(axis=1), 0.0))
    alike = np.ones((len(own), len(own))) if placing is None else _alike(panel, areas, picked, placing)
    shifts: Floats = alike * np.outer(own, own) + levers @ levers.T
    return shifts


def _shape_levers_mm(areas: Areas, picked: list[tuple[int, Area]]) -> Floats:
    """How far each place of the finished shape moves each area's mean depth, (n, places) mm."""
    levers = areas.levers_mm3[[place - 1 for place, _ in picked]]
    over = np.array([area.offset_mm3 / area.offset_mm if area.offset_mm > 0 else np.inf for _, area in picked])
    means: Floats = levers / over[:, None]
    return means


def _alike(panel: Surface, areas: Areas, picked: list[tuple[int, Area]], placing: Placing) -> Floats:
    """Correlation (n, n) of the areas' shifts under the covariance of ``placing``."""
    levers = np.zeros((len(picked), 6))
    for row, (place, _) in enumerate(picked):
        inside = areas.hemmed == place
        middles = panel.vertices[panel.triangles[inside]].mean(axis=1)
        levers[row] = placing.lever(middles, panel.normals[inside], panel.areas[inside])
    together = levers @ placing.covariance @ levers.T
    size = np.sqrt(np.maximum(np.diag(together), 1e-300))
    alike: Floats = together / np.outer(size, size)
    return alike
