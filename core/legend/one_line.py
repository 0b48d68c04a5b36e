"""A legend folded to one line, where there is no room for more."""

from __future__ import annotations

import numpy as np

from .drawing import CHARACTER, Drawing, Polygon, Text
from .legend_section import CARD, INK

_HIGH, _BASE, _ASIDE = 1.9, 1.3, 0.6  # in text sizes


def one_line(words: str, size: float) -> Drawing:
    """``words`` in letters of ``size`` on a card of their own.

    >>> drawing = one_line("Fill Map", 10.0)
    >>> drawing.width, drawing.height
    (60.0, 19.0)
    """
    width, height = (CHARACTER * len(words) + 2 * _ASIDE) * size, _HIGH * size
    card = np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])
    return Drawing(width, height, (Polygon(card, CARD), Text(_ASIDE * size, _BASE * size, words, size, INK)))
