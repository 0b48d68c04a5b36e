"""Smoothing of a field over a surface along its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from ..surface.surface import Floats, Mask, Surface

_MOST_STEPS = 60


@dataclass(frozen=True)
class Smoother:
    """Averages a field over neighbours, along the sheet, again and again.

    ``steps`` averagings make the Gaussian ``bandwidth_mm``; 0 where the mesh is coarser than that.
    """

    average: sparse.csr_matrix
    weight: Floats
    steps: int
    bandwidth_mm: float

    def smooth(self, field: Floats) -> Floats:
        """``field`` (n,) smoothed; where the smoother was given no point it stays out and comes back as 0."""
        for _ in range(self.steps):
            field = self.average @ field
        return field

    def twice(self, field: Floats) -> Floats:
        """``field`` smoothed, plus its own smoothed remainder: keeps the depth of a dent to fourth order."""
        once = self.smooth(field)
        return once + self.smooth(np.where(self.weight > 0, field - once, 0.0))


def smoother(panel: Surface, used: Mask, bandwidth_mm: float) -> Smoother:
    """A smoother over the vertices of ``panel`` where ``used`` (n,), of at most ``bandwidth_mm``.

    One averaging of half the vertex and half its neighbours spreads by a quarter of the edge squared.
    """
    edge = panel.mean_edge
    steps = int(min(_MOST_STEPS, round(4 * (bandwidth_mm / edge) ** 2)))
    weight = used.astype(np.float64)
    neighbours = panel.edge_counts.astype(bool).astype(np.float64)
    count = neighbours @ weight
    half = np.where(count > 0, 0.5 / np.maximum(count, 1.0), 0.0) * weight
    average = sparse.diags(half) @ neighbours @ sparse.diags(weight)
    average = (average + sparse.diags(np.where(count > 0, 0.5, 1.0) * weight)).tocsr()
    return Smoother(average, weight, steps, 0.5 * edge * float(np.sqrt(steps)))
