"""Numbers written flat before places of a panel, so that a list's numbers are found again in the view."""

from __future__ import annotations

import numpy as np

from ..surface.surface import Floats, Surface, normalised
from .chalk import chalk_height_mm
from .letters import written
from .skin import frame, up_of

_NEAR = 0.5  # a place faces as the metal within so many letter heights of it


def place_numbers(panel: Surface, places: Floats) -> list[Floats]:
    """Strokes (j, 3) mm of 1, 2, 3 ... about the ``places`` (k, 3) of ``panel``, across the metal there; none for none.

    They are to be drawn in front of the panel: where it is bent they run through it.
    """
    height, up = chalk_height_mm(panel.diagonal), up_of(panel.area_vectors)
    drawn = []
    for number, place in enumerate(places, start=1):
        away = np.linalg.norm(panel.vertices - place, axis=1)
        facing = panel.vertex_normals[away < away.min() + _NEAR * height].sum(axis=0)
        (right,), (above,) = frame(normalised(facing[None]), up)
        strokes, width = written(str(number))
        drawn += [place + height * ((one[:, :1] - width / 2) * right + (one[:, 1:] - 0.5) * above) for one in strokes]
    return drawn
