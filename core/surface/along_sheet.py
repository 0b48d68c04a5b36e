"""Distances along the sheet, from edge to edge."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

from .surface import Floats, Mask, Surface


def distance_from(panel: Surface, area: Mask, limit_mm: float) -> Floats:
    """Distance of each vertex from ``area`` (n,) along the sheet, (n,) mm; infinite beyond ``limit_mm``.

    Along edges, which runs about 6 % long; so it goes around holes and ends at rims. Nothing in ``area`` makes
    all of it infinite.
    """
    distance = np.full(len(area), np.inf)
    if not area.any():
        return distance
    low, high = panel.vertices[area].min(axis=0) - limit_mm, panel.vertices[area].max(axis=0) + limit_mm
    near = np.flatnonzero(((panel.vertices >= low) & (panel.vertices <= high)).all(axis=1))
    graph = panel.edge_counts[near][:, near].tocoo()
    step = panel.vertices[near[graph.row]] - panel.vertices[near[graph.col]]
    lengths = sparse.csr_matrix((np.sqrt((step * step).sum(axis=1)), (graph.row, graph.col)), shape=graph.shape)
    # Only the area's own border can be where a shortest way begins; the rest of it would cost time for nothing.
    outside = (~area[near]).astype(np.float64)
    border = np.flatnonzero(area[near] & ((graph.tocsr() @ outside) > 0))
    if len(border):
        distance[near] = dijkstra(lengths, directed=False, indices=border, min_only=True, limit=limit_mm)
    distance[area] = 0.0
    return distance
