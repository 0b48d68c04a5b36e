"""The legend of a map that is no plan: a small card of its steps of colour, as stairs on both sides of a line.

What stands above the line in the card is drawn in the colours of high metal, what lies below it in those of low metal:
so it says which is which as the plan's cut does. x runs right and y **down**, as everywhere in drawings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .drawing import CHARACTER, Drawing, Line, Polygon, Shape, Text
from .legend import INCH_MM, UNIT_WORD, Legend, Step, number_words
from .legend_section import CARD, INK

# All in text sizes: around everything, least width of a step and gap between two numbers, how much a stair is higher
# than the one before, half the thickness of what lies on the line, the stretch that is not judged; from baseline to
# baseline; numbers from the line; the title's size.
_MARGIN, _STEP, _GAP, _STAIR, _FLAT, _TAIL = 0.7, 2.0, 0.7, 0.5, 0.25, 5.4
_ROW, _ABOVE, _BELOW = 1.3, 0.45, 1.15
_LEAST_UP, _LEAST_DOWN = 2.4, 3.2  # room for the numbers and a row of words beyond them
_SIXTY_FOURTH_MM = INCH_MM / 64


@dataclass(frozen=True)
class CardWords:
    """What a map says: its ``title``, and what ``above`` and ``below`` the line mean; "" where nothing lies there."""

    title: str
    above: str
    below: str


def step_card(key: Legend, words: CardWords, text_size: float) -> Drawing:
    """The card of ``key``, as large as its numbers and words need in text of ``text_size``.

    >>> from .legend import legend
    >>> card = step_card(legend(), CardWords("Old Filler", "", "old filler"), 10.0)
    >>> [shape.text for shape in card.shapes if isinstance(shape, Text)][-3:]
    ['Old Filler', 'not', 'measured']
    >>> step_card(legend(), CardWords("", "", ""), 0.0).width
    0.0
    """
    place = _placed(key, words)
    card = Polygon(_box(0.0, 0.0, place.width, place.height), CARD)
    stairs = [_stair(k, one, place) for k, one in enumerate(key.steps[:-1])]
    tail = _box(place.rim, place.line_y - _FLAT, place.rim + _TAIL, place.line_y + _FLAT)
    line = Line(np.array([[place.left, place.line_y], [place.rim, place.line_y]]), INK, 0.15)
    dark = Polygon(tail, key.steps[-1].colour)
    shapes: list[Shape] = [card, *stairs, dark, line, *_numbers(place), *_words(place)]
    return Drawing(place.width * text_size, place.height * text_size, tuple(_large(one, text_size) for one in shapes))


@dataclass(frozen=True)
class _Place:
    """Where things lie, in text sizes: the line, its ends, a step's width, how far stairs go up and down."""

    key: Legend
    words: CardWords
    numbers: list[str]
    step: float
    up: float
    down: float
    line_y: float
    left: float
    rim: float
    width: float
    height: float


def _placed(key: Legend, words: CardWords) -> _Place:
    count, numbers = len(key.steps) - 1, [_number(abs(float(edge)), key.unit) for edge in key.edges_mm]
    step = max(_STEP, CHARACTER * max(map(len, numbers)) + _GAP)
    up = max(_LEAST_UP, _STAIR * key.true_step)
    down = max(_LEAST_DOWN, _STAIR * (count - 1 - key.true_step))
    line_y, rim = _MARGIN + _ROW + up, _MARGIN + step * count
    widest = CHARACTER * max(len(words.title), len(words.above), len(words.below))
    width = max(rim + _TAIL, _MARGIN + widest) + _MARGIN
    return _Place(key, words, numbers, step, up, down, line_y, _MARGIN, rim, width, line_y + down + _MARGIN)


def _numbers(place: _Place) -> list[Text]:
    """The numbers along the line, each on the side away from its colour, and the unit after the last."""
    above, below = place.line_y - _ABOVE, place.line_y + _BELOW
    edge_x = place.left + place.step * np.arange(1, len(place.numbers) + 1)
    texts = [
        Text(float(x), above if edge > 0 else below, word, 1.0, INK, "middle")
        for x, edge, word in zip(edge_x, place.key.edges_mm, place.numbers, strict=True)
    ]
    after = float(edge_x[-1]) + CHARACTER * len(place.numbers[-1]) / 2 + 0.3
    return [*texts, Text(after, above, UNIT_WORD[place.key.unit], 1.0, INK)]


def _words(place: _Place) -> list[Text]:
    """What lies above and below, beside the stairs' far ends; the title; where it is not judged."""
    high = sum(_STAIR * (place.key.true_step - k) > place.up - 1.0 for k in range(place.key.true_step))
    start, tail = place.left + place.step * high + 0.4, place.rim + _TAIL / 2
    texts = [
        Text(start, place.line_y - place.up + 0.8, place.words.above, 1.0, INK),
        Text(place.left, place.line_y + place.down - 0.1, place.words.below, 1.0, INK),
        Text(place.left, _MARGIN + 0.75, place.words.title, 1.0, INK),
        Text(tail, place.line_y + _BELOW + 0.15, "not", 1.0, INK, "middle"),
        Text(tail, place.line_y + _BELOW + 1.25, "measured", 1.0, INK, "middle"),
    ]
    return [text for text in texts if text.text]


def _large(shape: Shape, size: float) -> Shape:
    if isinstance(shape, Text):
        return replace(shape, x=shape.x * size, y=shape.y * size, size=shape.size * size)
    if isinstance(shape, Line):
        return replace(shape, points=shape.points * size, width=shape.width * size)
    return replace(shape, points=shape.points * size)


def _stair(k: int, one: Step, place: _Place) -> Polygon:
    """A step's column: the further from true, the further from the line; true lies along it."""
    far, left = _STAIR * (k - place.key.true_step), place.left + k * place.step
    top, bottom = (-_FLAT, _FLAT) if far == 0 else sorted((0.0, far))
    return Polygon(_box(left, place.line_y + top, left + place.step, place.line_y + bottom), one.colour)


def _box(left: float, top: float, right: float, bottom: float) -> NDArray[np.float64]:
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def _number(mm: float, unit: str) -> str:
    """As everywhere; finer than 1/64 in as a decimal of two figures."""
    return f"{mm / INCH_MM:.2g}" if unit == "inch" and mm < 0.99 * _SIXTY_FOURTH_MM else number_words(mm, unit)
