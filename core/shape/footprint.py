"""The outline of a damaged place, and where else on the panel it could lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Mask


def clear(uv: Floats, turn: float, gap_mm: float) -> Floats:
    """The shortest shift (2,) in a direction that brings the points' box clear of itself by ``gap_mm``, mm."""
    way = np.array([np.cos(turn), np.sin(turn)])
    needed = (np.ptp(uv, axis=0) + gap_mm) / np.maximum(np.abs(way), 1e-9)
    shift: Floats = needed.min() * way
    return shift


@dataclass(frozen=True, eq=False)
class Footprint:
    """An outline as a picture of square cells: which of them hold a point."""

    cells: Mask
    low: Floats
    size_mm: float

    @classmethod
    def of(cls, uv: Floats, size_mm: float) -> Footprint:
        low = uv.min(axis=0)
        cell = ((uv - low) / size_mm).astype(np.int64)
        cells = np.zeros(tuple(cell.max(axis=0) + 1), dtype=bool)
        cells[cell[:, 0], cell[:, 1]] = True
        return cls(cells, low, size_mm)

    def holds(self, uv: Floats) -> Mask:
        """Which points (n, 2) lie in it, (n,)."""
        cell = np.floor((uv - self.low) / self.size_mm).astype(np.int64)
        within = ((cell >= 0) & (cell < self.cells.shape)).all(axis=1)
        held = np.zeros(len(uv), dtype=bool)
        held[within] = self.cells[cell[within, 0], cell[within, 1]]
        return held
