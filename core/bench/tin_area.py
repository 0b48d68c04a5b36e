"""The prepared metal around a fill: tinned for solder, keyed for filler."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import dijkstra

from ..surface.surface import Floats, Mask, Surface


def margin_area_mm2(panel: Surface, area: Mask, width_mm: float) -> float:
    """Area of the metal within ``width_mm`` of the vertices in ``area`` (n,), but outside them, mm2.

    Measured along the sheet (edge by edge, which runs about 6 % long), so it ends at rims and holes.
    """
    if width_mm <= 0 or not area.any():
        return 0.0
    distance = distance_from(panel, area, width_mm)
    return float(panel.vertex_areas[(distance <= width_mm) & ~area].sum())


def distance_from(panel: Surface, area: Mask, limit_mm: float) -> Floats:
    """Distance of each vertex from ``area`` (n,) along the sheet, (n,) mm; infinite beyond ``limit_mm``."""
    low, high = panel.vertices[area].min(axis=0) - limit_mm, panel.vertices[area].max(axis=0) + limit_mm
    near = np.flatnonzero(((panel.vertices >= low) & (panel.vertices <= high)).all(axis=1))
    graph = panel.edge_counts[near][:, near].tocoo()
    step = panel.vertices[near[graph.row]] - panel.vertices[near[graph.col]]
    lengths = sparse.csr_matrix((np.sqrt((step * step).sum(axis=1)), (graph.row, graph.col)), shape=graph.shape)
    # Only the area's own border can be where a shortest way begins; the rest of it would cost time for nothing.
    outside = (~area[near]).astype(np.float64)
    border = np.flatnonzero(area[near] & ((graph.tocsr() @ outside) > 0))
    distance = np.full(len(area), np.inf)
    if len(border):
        distance[near] = dijkstra(lengths, directed=False, indices=border, min_only=True, limit=limit_mm)
    distance[area] = 0.0
    return distance
