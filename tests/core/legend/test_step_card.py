"""The card of a map's steps: every step in its colour, on its side of the line, and nothing over anything else."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from core.legend.drawing import CHARACTER, Drawing, Polygon, Text
from core.legend.step_card import step_card
from core.map.map_keys import MAPS, map_key, map_words

CASES = [(kind, unit, true_mm) for kind in MAPS for unit in ("mm", "inch") for true_mm in (0.1, 0.25, 0.8)]


def card(kind: str, unit: str, true_mm: float) -> Drawing:
    return step_card(map_key(kind, true_mm, unit), map_words(kind), 10.0)


def box(text: Text) -> tuple[float, float, float, float]:
    """Left, right, top and bottom of a text, on the wide side for a sans serif; digits have nothing under the line."""
    width = CHARACTER * len(text.text) * text.size
    left = text.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    return left, left + width, text.y - 0.72 * text.size, text.y


@pytest.mark.parametrize(("kind", "unit", "true_mm"), CASES)
def test_texts_are_inside_and_apart(kind: str, unit: str, true_mm: float) -> None:
    drawing = card(kind, unit, true_mm)
    boxes = {shape.text: box(shape) for shape in drawing.shapes if isinstance(shape, Text)}
    for left, right, top, bottom in boxes.values():
        assert 0 < left < right < drawing.width
        assert 0 < top < bottom < drawing.height
    for (one, a), (other, b) in itertools.combinations(boxes.items(), 2):
        assert a[1] < b[0] or b[1] < a[0] or a[3] < b[2] or b[3] < a[2], (one, other)


@pytest.mark.parametrize(("kind", "unit", "true_mm"), CASES)
def test_texts_lie_on_the_card_alone(kind: str, unit: str, true_mm: float) -> None:
    drawing = card(kind, unit, true_mm)
    areas = [s.points for s in drawing.shapes if isinstance(s, Polygon)][1:]
    for text in (shape for shape in drawing.shapes if isinstance(shape, Text)):
        left, right, top, bottom = box(text)
        for points in areas:
            (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
            assert right <= x0 or x1 <= left or bottom <= y0 or y1 <= top, text.text


@pytest.mark.parametrize(("kind", "unit", "true_mm"), CASES)
def test_each_step_stands_on_its_side_the_further_the_higher(kind: str, unit: str, true_mm: float) -> None:
    key = map_key(kind, true_mm, unit)
    drawing = step_card(key, map_words(kind), 10.0)
    _, *stairs, tail = [shape for shape in drawing.shapes if isinstance(shape, Polygon)]
    assert [stair.fill for stair in stairs] == [step.colour for step in key.steps[:-1]]
    assert tail.fill == key.steps[-1].colour
    line_y = float(tail.points[:, 1].mean())
    for k, stair in enumerate(stairs):
        up, down = line_y - stair.points[:, 1].min(), stair.points[:, 1].max() - line_y
        far = 5.0 * abs(k - key.true_step)
        wanted = (2.5, 2.5) if not far else (far, 0) if k < key.true_step else (0, far)
        assert (up, down) == pytest.approx(wanted)
    edges = [stair.points[:, 0].max() for stair in stairs[:-1]]
    numbers = sorted((s.x, s.text) for s in drawing.shapes if isinstance(s, Text) and s.text[0].isdigit())
    assert [x for x, _ in numbers] == pytest.approx(edges)
    mm = np.array([_read(word) for _, word in numbers]) * (25.4 if unit == "inch" else 1.0)
    np.testing.assert_allclose(mm, np.abs(key.edges_mm), rtol=0.03)  # decimals of an inch have two or three figures


def _read(word: str) -> float:
    """A number as the card has it: "0.25", "1/64", "1 1/4"."""
    return sum(float(a) / float(b or 1) for a, _, b in (part.partition("/") for part in word.split()))


def test_size_is_the_texts() -> None:
    small, large = (step_card(map_key("as_was", 0.25, "mm"), map_words("as_was"), size) for size in (10.0, 20.0))
    assert (large.width, large.height) == pytest.approx((2 * small.width, 2 * small.height))
