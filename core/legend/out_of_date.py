"""What says, on a legend and on a picture's page, that the plan no longer fits what lies in the scene."""

from __future__ import annotations

import numpy as np

from .drawing import CHARACTER, Drawing, Polygon, Shape, Text, moved
from .legend import Colour

WORDS = "Out of date: plan again"
BAND: Colour = (125, 52, 24)
PAPER: Colour = (255, 250, 244)
_HIGH, _BASE = 1.9, 1.3  # of the band and of its words' baseline, in text sizes


def stamp(right: float, top: float, size: float) -> tuple[Shape, ...]:
    """A band that says so in letters of ``size``, its upper right corner at (``right``, ``top``)."""
    left = right - (CHARACTER * len(WORDS) + 1.0) * size
    return _band(left, right, top, size)


def stamped(drawing: Drawing, size: float) -> Drawing:
    """The drawing with such a band across its top, which makes it that much higher.

    >>> over = stamped(Drawing(200.0, 100.0, ()), 10.0)
    >>> over.width, over.height, over.shapes[-1].text
    (200.0, 119.0, 'Out of date: plan again')
    """
    shapes = (moved(shape, 0.0, _HIGH * size) for shape in drawing.shapes)
    return Drawing(drawing.width, drawing.height + _HIGH * size, (*shapes, *_band(0.0, drawing.width, 0.0, size)))


def _band(left: float, right: float, top: float, size: float) -> tuple[Shape, ...]:
    bottom = top + _HIGH * size
    outline = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return Polygon(outline, BAND), Text(left + 0.6 * size, top + _BASE * size, WORDS, size, PAPER)
