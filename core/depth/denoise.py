"""Smoothing of a field over a surface along its edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from ..surface.surface import Floats, Mask, Surface

_MOST_STEPS = 60


@dataclass(frozen=True)
class Steady:
    """A depth field with its noise smoothed, (n,) mm, 0 where it was not judged.

    ``smoothed_mm``: Gaussian smoothing of ``bandwidth_mm``, what noise it leaves is known;
    ``depth_mm``: that plus its own smoothed remainder, which keeps a dent's depth to fourth order.
    """

    smoothed_mm: Floats
    depth_mm: Floats
    bandwidth_mm: float


def steadied(panel: Surface, depth_mm: Floats, judged: Mask, bandwidth_mm: float) -> Steady:
    """The depths (n,) of ``panel`` where ``judged``, smoothed along the sheet by at most ``bandwidth_mm``.

    On a mesh coarser than that there is nothing to smooth. Half a vertex and half the mean of its
    neighbours, again and again: each time spreads by a quarter of the edge squared.
    """
    edge = panel.mean_edge
    steps = int(min(_MOST_STEPS, round(4 * (bandwidth_mm / edge) ** 2)))
    average = _averaging(panel, judged)
    depth = np.where(judged, depth_mm, 0.0)
    smoothed = _repeated(average, depth, steps)
    steady = smoothed + _repeated(average, depth - smoothed, steps)
    return Steady(smoothed, steady, 0.5 * edge * float(np.sqrt(steps)))


def _averaging(panel: Surface, used: Mask) -> sparse.csr_matrix:
    """Half a vertex and half the mean of its used neighbours; nothing at vertices that are not used."""
    average = panel.edge_counts.astype(np.float64)
    average.data = used[average.indices].astype(np.float64)
    weight = used.astype(np.float64)
    count = average @ weight
    rows = np.diff(average.indptr)
    average.data *= np.repeat(np.where(count > 0, 0.5 / np.maximum(count, 1.0), 0.0) * weight, rows)
    return (average + sparse.diags(np.where(count > 0, 0.5, 1.0) * weight)).tocsr()


def _repeated(average: sparse.csr_matrix, field: Floats, steps: int) -> Floats:
    for _ in range(steps):
        field = average @ field
    return field
