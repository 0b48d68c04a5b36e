"""A legend's heading and what must be said over it, each in a band across its top; and a legend that is such a band
alone, where there is no room for more."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .drawing import CHARACTER, Drawing, Polygon, Shape, Text, moved
from .legend import Colour
from .legend_section import CARD, INK

OUT_OF_DATE, BEHIND = "Out of date: plan again", "Seen from behind"
_HIGH, _BASE, _ASIDE = 1.9, 1.3, 0.6  # of the band, of its words' baseline, before the words; in text sizes


@dataclass(frozen=True)
class Paint:
    """A band's ground and the colour of its words."""

    ground: Colour
    ink: Colour


PLAIN, WARNING = Paint(CARD, INK), Paint((125, 52, 24), (255, 250, 244))


def headed(drawing: Drawing, words: str, size: float, paint: Paint = WARNING) -> Drawing:
    """The drawing under a band of ``words`` in letters of ``size``, which makes it that much higher.

    >>> over = headed(Drawing(200.0, 100.0, ()), OUT_OF_DATE, 10.0)
    >>> over.width, over.height, over.shapes[-1].text
    (200.0, 119.0, 'Out of date: plan again')
    """
    shapes = (moved(shape, 0.0, _HIGH * size) for shape in drawing.shapes)
    across = _band(0.0, drawing.width, 0.0, words, size, paint)
    return Drawing(drawing.width, drawing.height + _HIGH * size, (*shapes, *across))


def stamp(right: float, top: float, words: str, size: float) -> tuple[Shape, ...]:
    """A warning band as long as its words, its upper right corner at (``right``, ``top``)."""
    return _band(right - _length(words, size), right, top, words, size, WARNING)


def one_line(words: str, size: float) -> Drawing:
    """``words`` alone.

    >>> drawing = one_line("Fill Map", 10.0)
    >>> drawing.width, drawing.height
    (60.0, 19.0)
    """
    width = _length(words, size)
    return Drawing(width, _HIGH * size, _band(0.0, width, 0.0, words, size, PLAIN))


def _length(words: str, size: float) -> float:
    return (CHARACTER * len(words) + 2 * _ASIDE) * size


def _band(left: float, right: float, top: float, words: str, size: float, paint: Paint) -> tuple[Shape, ...]:
    bottom = top + _HIGH * size
    outline = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    return Polygon(outline, paint.ground), Text(left + _ASIDE * size, top + _BASE * size, words, size, paint.ink)
