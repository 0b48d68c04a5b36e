"""Where the words of a note go beside its cross, so that they cover no chalk that is there already."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_BESIDE, _BELOW, _BETWEEN = 0.85, -0.4, 1.5  # from cross to words, their foot, and from one row of tries to the next
_AROUND = 0.3  # left free around the words; all in letter heights
_ROWS = (0, 1, -1, 2, -2, 3, -3)


def clear_place(width: float, height: float, taken: Floats) -> Floats:
    """The lower left corner (2,) of words ``width`` long in letters of ``height``, beside a cross at (0, 0): to its
    right, else to its left, else a few rows higher or lower, wherever first no point of ``taken`` (k, 2) is covered;
    where that is nowhere, where fewest are.

    >>> clear_place(30.0, 10.0, np.empty((0, 2))).tolist()
    [8.5, -4.0]
    >>> clear_place(30.0, 10.0, np.array([[20.0, 0.0]])).tolist()
    [-38.5, -4.0]
    """
    tries = np.array([
        (side, (_BELOW + row * _BETWEEN) * height)
        for row in _ROWS for side in (_BESIDE * height, -_BESIDE * height - width)
    ])
    low = tries - _AROUND * height
    high = tries + [width, height] + _AROUND * height
    covered = ((taken >= low[:, None]) & (taken <= high[:, None])).all(axis=2).sum(axis=1)
    place: Floats = tries[np.argmin(covered)]
    return place
