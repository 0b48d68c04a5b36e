"""Marks cut down to the damage: what is bent is looked for blurred, so marks begin wide; where the metal stands says
how wide the damage really is."""

from __future__ import annotations

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..depth.denoise import steadied
from ..errors import InputError
from ..progress import Progress, silent
from ..surface.along_sheet import distance_from
from ..surface.surface import Floats, Mask, Surface
from .carry_through import carry_through

_OFF_MM = 0.15  # damage is off its surroundings by more somewhere: less than what counts as true, common practice
_STEADIED_MM = 3.0


def trimmed(panel: Surface, marks: Mask, around_mm: float, progress: Progress = silent) -> Mask:
    """The ``marks`` (n,) without what lies true to the metal around them, carried through, and more than ``around_mm``
    from what does not.

    A place that can't be carried through, or is nowhere off by more than 0.15 mm, stays as it is.
    """
    if not marks.any():
        return marks
    try:
        moved = carry_through(panel, marks, progress=progress).moved_mm
    except InputError:
        return marks
    off = marks & (np.abs(steadied(panel, moved, marks, _STEADIED_MM).smoothed_mm) > _OFF_MM)
    near = np.isfinite(distance_from(panel, off, around_mm)) if off.any() else off
    return marks & (near | ~_reached(panel, marks, off.astype(np.float64)))


def _reached(panel: Surface, marks: Mask, off: Floats) -> Mask:
    """The vertices (n,) of connected places of ``marks`` that hold one that is ``off`` (n,)."""
    rows = np.flatnonzero(marks)
    count, part = connected_components(panel.edge_counts[rows][:, rows], directed=False)
    reached = np.zeros(len(marks), dtype=bool)
    reached[rows] = (np.bincount(part, off[rows], minlength=count) > 0)[part]
    return reached
