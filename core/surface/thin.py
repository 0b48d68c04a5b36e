"""Thinning of scans that are too large to work on."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from .slivers import without_duplicates
from .surface import Surface

LIMIT = 20_000_000


def thin(surface: Surface, limit: int = LIMIT) -> Surface:
    """The surface with at most about ``limit`` triangles: points in one cell of a grid become their mean.

    A surface within the limit stays as it is. The cell's side is sqrt(4 area / limit), so that about half
    the limit is left; rims draw in by up to half a cell, details smaller than a cell are lost.
    Source: vertex clustering, Rossignac & Borrel 1993 (from memory).
    """
    if len(surface.triangles) <= limit:
        return surface
    cell = float(np.sqrt(4 * surface.area / limit))
    place = np.floor((surface.vertices - surface.vertices.min(axis=0)) / cell).astype(np.int64)
    cell_of = place @ np.array([1, 1 << 21, 1 << 42])
    # Only what hangs together inside the cell: a hem's flange behind the face stays apart.
    edges = surface.edge_counts.tocoo()
    within = cell_of[edges.row] == cell_of[edges.col]
    joined = sparse.coo_matrix((np.ones(within.sum()), (edges.row[within], edges.col[within])), shape=edges.shape)
    row = connected_components(joined, directed=False)[1].astype(np.int64)
    size = np.bincount(row)
    means = np.stack([np.bincount(row, surface.vertices[:, k]) / size for k in range(3)], axis=1)
    came = row if surface.row_of_input is None else np.where(
        surface.row_of_input >= 0, row[surface.row_of_input], -1
    )
    triangles = row[surface.triangles]
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    clustered = Surface(means, triangles, surface.origin, came).part(whole)
    return without_duplicates(clustered)[0]
