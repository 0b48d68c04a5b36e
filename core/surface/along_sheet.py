"""Distances along the sheet, from edge to edge."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

from .surface import Floats, Mask, Surface, dot

# A way along edges is up to this much longer than the straight one, on a grid cut along one diagonal.
_ZIGZAG = 1.45


def distance_from(panel: Surface, area: Mask, limit_mm: float) -> Floats:
    """Distance of each vertex from ``area`` (n,) along the sheet, (n,) mm; infinite beyond ``limit_mm``.

    Ways along edges find the border vertex that each vertex belongs to; the distance is the straight one to it,
    unless the way is so much longer that it goes around a hole or a rim. It runs up to 4 % long, on a grid with
    one diagonal 10 %. Nothing in ``area`` makes all of it infinite.
    """
    reach = _ZIGZAG * limit_mm
    distance = np.full(len(area), np.inf)
    if not area.any():
        return distance
    low, high = panel.vertices[area].min(axis=0) - reach, panel.vertices[area].max(axis=0) + reach
    near = np.flatnonzero(((panel.vertices >= low) & (panel.vertices <= high)).all(axis=1))
    graph = panel.edge_counts[near][:, near].tocoo()
    step = panel.vertices[near[graph.row]] - panel.vertices[near[graph.col]]
    lengths = sparse.csr_matrix((np.sqrt((step * step).sum(axis=1)), (graph.row, graph.col)), shape=graph.shape)
    # Only the area's own border can be where a shortest way begins; the rest of it would cost time for nothing.
    outside = (~area[near]).astype(np.float64)
    border = np.flatnonzero(area[near] & ((graph.tocsr() @ outside) > 0))
    if len(border):
        way, _, source = dijkstra(
            lengths, directed=False, indices=border, min_only=True, limit=reach, return_predecessors=True
        )
        found = np.flatnonzero(np.isfinite(way))
        gap = panel.vertices[near[found]] - panel.vertices[near[source[found]]]
        straight = np.sqrt(dot(gap, gap))
        along = np.where(way[found] <= _ZIGZAG * straight, straight, way[found])
        distance[near[found]] = np.where(along <= limit_mm, along, np.inf)
    distance[area] = 0.0
    return distance
