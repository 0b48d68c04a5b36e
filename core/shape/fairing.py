"""What a patch leaves over at the rim of a mask, carried smoothly across it."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import spsolve

from ..surface.surface import Floats, Mask, Surface


def faired(sheet: Surface, remainder_mm: Floats, known: Mask, length_mm: float) -> Floats:
    """``remainder_mm`` (n,), given where ``known`` (n,), smoothed there over ``length_mm`` and carried into the rest.

    A membrane with springs where it is known: inside, it lies between the values at the rim, so that noise
    there is never made larger.
    """
    graph = sheet.edge_counts.astype(bool).astype(np.float64)
    laplacian = sparse.diags(np.asarray(graph.sum(axis=1)).ravel()) - graph
    stiffness = (length_mm / sheet.mean_edge) ** 2 / 1.5  # six neighbours pull 1.5 edge^2 times the second derivative
    springs = sparse.diags(known.astype(np.float64))
    # The least spring keeps a part without any known point from being undetermined.
    system = (springs + stiffness * laplacian + 1e-9 * sparse.eye(len(known))).tocsc()
    smoothed: Floats = spsolve(system, np.where(known, remainder_mm, 0.0))
    return smoothed


def flattened(sheet: Surface, uv: Floats, free: Mask) -> Floats:
    """Places ``uv`` (n, 2) of ``sheet`` with the ``free`` vertices (n,) spread evenly between the others.

    Undoes folds and overhangs that damage has left: each free vertex comes to the mean of its neighbours.
    """
    graph = sheet.edge_counts.astype(bool).astype(np.float64).tocsr()
    rows = np.flatnonzero(free)
    own = graph[rows]
    degree = sparse.diags(np.asarray(own.sum(axis=1)).ravel())
    system = (degree - own[:, rows]).tocsc()
    pull = own[:, ~free] @ uv[~free]
    out = uv.copy()
    out[rows] = np.stack([spsolve(system, pull[:, k]) for k in range(2)], axis=1)
    return out
