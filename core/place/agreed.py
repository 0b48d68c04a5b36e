"""How far scan and shape agree on what holds the one on the other."""

from __future__ import annotations

import numpy as np

from ..surface.surface import Floats

_NOTHING = 1e-12  # of the largest: what is held by less is not held at all


def agreed(square: Floats, across: Floats) -> Floats:
    """The share (6, 6) of the shape's hold on each freedom that the scan knows of as well, 0 to 1, as a matrix K.

    ``square`` (6, 6): sum of r r' over points, r how far each freedom moves a point along the shape's normal;
    ``across``: sum of r s', s the same along the scan's own normal. Noise and facets tilt the shape's normals, so
    that a plate seems to be held along itself by bumps that the scan has not; the scan's normals err independently,
    and what errs independently adds nothing to the sum across, in the mean. K ``square`` is symmetric, and is what
    holds; K times a pull is what is known of it. Where both agree K is the identity. Source: instrumental variables,
    Reiersol 1945, and errors in both variables, Fuller 1987, "Measurement Error Models" (both from memory).

    >>> agreed(np.diag([4.0, 1.0]), np.diag([4.0, 0.0]))
    array([[1., 0.],
           [0., 0.]])
    """
    size, axes = np.linalg.eigh(square)
    root = np.sqrt(np.maximum(size, _NOTHING * max(float(size[-1]), _NOTHING)))
    inner = (axes / root).T @ (0.5 * (across + across.T)) @ (axes / root)
    share, ways = np.linalg.eigh(inner)
    known: Floats = (axes * root) @ (ways * np.clip(share, 0.0, 1.0)) @ ways.T @ (axes / root).T
    return known
