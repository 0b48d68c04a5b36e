"""Words in single strokes, as a hand writes on metal: for numbers on contour lines and words in chalk. numpy only.

Capitals are 1 high; x runs right, y up from the baseline.
"""

from __future__ import annotations

import unicodedata

import numpy as np
from numpy.typing import NDArray

from .alphabet import ACCENTS, LETTERS, RAISED, SAME, STAND_IN, Letter

Floats = NDArray[np.float64]

BETWEEN = 0.2  # between letters
_DOTLESS = {"i": "\u0131", "j": "\u0237"}
_LIFT, _ROOM = 0.34, 0.26  # of an accent over a capital, and beside one over a narrow letter
_RAISED = 0.55
_STEPS = 5  # points drawn from each written point to the next


def written(text: str) -> tuple[tuple[Floats, ...], float]:
    """The strokes of ``text``, each (k, 2), and its width; for a letter that is not known a box.

    >>> strokes, width = written("1/2")
    >>> len(strokes), round(width, 2)
    (3, 1.58)
    >>> written("")
    ((), 0.0)
    """
    strokes: list[Floats] = []
    x = 0.0
    for letter in "".join(SAME.get(one, one) for one in unicodedata.normalize("NFC", text)):
        width, lines = _letter(letter)
        strokes += [_smooth(np.array(line)) + [x, 0.0] for line in lines]
        x += width + BETWEEN
    return tuple(strokes), max(0.0, x - BETWEEN)


def _letter(letter: str) -> Letter:
    """Width and strokes of one letter, with its accents."""
    base, *accents = list(unicodedata.normalize("NFD", RAISED.get(letter, letter)))
    if base in ACCENTS:  # written as a letter of its own it belongs to the one before
        return -BETWEEN, ()
    if base not in LETTERS or any(accent not in ACCENTS for accent in accents):
        return STAND_IN
    over = any(min(y for line in ACCENTS[accent] for _, y in line) > 0 for accent in accents)
    width, lines = LETTERS[_DOTLESS.get(base, base) if over else base]
    room = max(0.0, _ROOM - width) if over else 0.0
    width, lines = width + room, tuple(tuple((x + 0.5 * room, y) for x, y in line) for line in lines)
    if letter in RAISED:
        lines = tuple(tuple((_RAISED * x, 1.0 - _RAISED * (1.0 - y)) for x, y in line) for line in lines)
        return _RAISED * width, lines
    lift = _LIFT if base.isupper() else 0.0
    for accent in accents:
        lines += tuple(tuple((0.5 * width + x, y + lift * (y > 0)) for x, y in line) for line in ACCENTS[accent])
    return width, lines


def _smooth(written_points: Floats) -> Floats:
    """Points on the Catmull-Rom curve through the written ones (Catmull & Rom 1974)."""
    p = np.vstack([written_points[:1], written_points, written_points[-1:]])
    a, b, c, d = p[:-3], p[1:-2], p[2:-1], p[3:]
    apart = (b != c).any(axis=1)
    a, b, c, d = a[apart, None], b[apart, None], c[apart, None], d[apart, None]
    t = (np.arange(_STEPS) / _STEPS)[None, :, None]
    curve = b + 0.5 * t * (c - a + t * (2 * a - 5 * b + 4 * c - d + t * (3 * (b - c) + d - a)))
    points: Floats = np.vstack([curve.reshape(-1, 2), written_points[-1:]])
    return points
