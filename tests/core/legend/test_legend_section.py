"""The legend's cut: everything in its place, nothing on top of another, at window and paper sizes."""

from __future__ import annotations

import math
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from core.bench.lay_up import LayUp
from core.errors import InputError
from core.legend import section_layout as cut_layout
from core.legend.drawing import Drawing, Line, Polygon, Text
from core.legend.legend import legend, step_of
from core.legend.legend_section import CARD, FRESH, PASS, STEEL, legend_section
from core.map.map_keys import MAPS, map_key, map_words
from tests.seeds import cases

KEYS = {
    "plain": legend(),
    "solder": legend(greatest_mm=3.2),
    "shallow": legend(greatest_mm=0.4),
    "coarse": legend(1.2, 12.0),
    "huge": legend(12.0),
    "inch": legend(25.4 / 64, 6.35, "inch"),
    "odd inch": legend(0.25, 3.0, "inch"),
    "check": legend(greatest_mm=3.2, kind="check"),
}
MAP_WORDS = {}
for kind in MAPS:
    for unit in ("mm", "inch"):
        KEYS[f"{kind} {unit}"], MAP_WORDS[f"{kind} {unit}"] = map_key(kind, 0.25, unit), map_words(kind)
LAID = {"none": None, "thin": LayUp(0.3, 0.2, 0.0, "filler"), "solder": LayUp(2.0, 1.1, 0.0, "solder"),
        "filler": LayUp(3.0, 2.6, 0.02, "filler")}
SIZES = [(320, 180), (90, 60), (640, 200), (120, 200), (1000, 300)]
CASES = [(name, size, laid) for name in KEYS for size in SIZES for laid in LAID
         if name not in MAP_WORDS or laid == "none"]
OFTEN = CASES[::3]  # every size, every key and everything laid among them


def section(name: str, size: tuple[int, int], laid: str = "none") -> Drawing:
    return legend_section(KEYS[name], *size, LAID[laid], words=MAP_WORDS.get(name))


def box(text: Text) -> tuple[float, float, float, float]:
    """Estimated: 0.6 of the size a character, 0.8 above and 0.25 below the baseline (common practice, no source)."""
    width = 0.6 * text.size * len(text.text)
    left = text.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    return left, text.y - 0.8 * text.size, left + width, text.y + 0.25 * text.size


def texts(drawing: Drawing) -> list[Text]:
    return [shape for shape in drawing.shapes if isinstance(shape, Text)]


def fills(drawing: Drawing) -> list[Polygon]:
    """The polygons between metal and line: neither card nor sheet, nor what is laid to be filed off."""
    polygons = [shape for shape in drawing.shapes if isinstance(shape, Polygon)]
    return [shape for shape in polygons if shape.fill not in (CARD, STEEL, FRESH) and not shape.dots]


def surface(drawing: Drawing) -> np.ndarray:
    """The metal's upper side: the second of the two long lines (k, 2)."""
    return [shape for shape in drawing.shapes if isinstance(shape, Line) and len(shape.points) > 9][1].points


def line_y(drawing: Drawing) -> float:
    level = [s.points for s in drawing.shapes if isinstance(s, Line) and len(s.points) == 2 and s.colour != PASS]
    return float(max(level, key=lambda p: abs(p[1, 0] - p[0, 0]))[0, 1])


def check_room(drawing: Drawing) -> None:
    """No two texts overlap, and nothing reaches outside the drawing."""
    boxes = [box(text) for text in texts(drawing)]
    for a, b in combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
    for left, top, right, bottom in boxes:
        assert left >= 0
        assert top >= 0
        assert right <= drawing.width
        assert bottom <= drawing.height
    for shape in drawing.shapes:
        if not isinstance(shape, Text):
            spare = shape.width / 2 if isinstance(shape, Line) else 0.0
            assert shape.points.min() >= spare
            assert (shape.points.max(axis=0) <= np.array([drawing.width, drawing.height]) - spare + 1e-9).all()


@pytest.mark.parametrize(("name", "size", "laid"), cases(CASES, *OFTEN))
def test_nothing_overlaps_or_leaves_the_drawing(name: str, size: tuple[int, int], laid: str) -> None:
    drawing = section(name, size, laid)
    check_room(drawing)


@pytest.mark.parametrize(("name", "size", "laid"), cases(CASES, *OFTEN))
def test_no_text_lies_on_colour_or_metal(name: str, size: tuple[int, int], laid: str) -> None:
    drawing = section(name, size, laid)
    top = surface(drawing)
    # all that is drawn in a column lies between the line or metal above and the sheet's underside below
    under = cut_layout.below_surface(cut_layout.layout(KEYS[name], *size, None), 1.0)
    level = line_y(drawing)
    for left, upper, right, lower in map(box, texts(drawing)):
        column = (top[:, 0] >= left) & (top[:, 0] <= right)
        highest = np.minimum(top[column, 1], level)
        # under high metal the sheet hangs free above the line, or dips just below it
        lowest = np.maximum(under[column, 1], level)
        assert (lower <= highest).all() or (upper >= lowest).all()


@pytest.mark.parametrize("name", KEYS)
def test_colours_lie_on_their_side_of_the_line(name: str) -> None:
    # the sign explains itself: high steps above the finished line, low ones below
    key = KEYS[name]
    drawing = section(name, (320, 180))
    kinds = {step.colour: step.kind for step in key.steps}
    seen = {shape.fill for shape in fills(drawing)}
    assert seen == {step.colour for step in key.steps[:-1]}
    for shape in fills(drawing):
        below = shape.points[:, 1] - line_y(drawing)
        assert kinds[shape.fill] != "high" or below.max() <= 1e-9
        assert kinds[shape.fill] not in ("low", "too_deep") or below.min() >= -1e-9
        assert shape.hatch == (kinds[shape.fill] == "too_deep")
    sheet = [shape for shape in drawing.shapes if isinstance(shape, Polygon) and shape.dots]
    assert [shape.fill for shape in sheet] == [key.steps[-1].colour]


@pytest.mark.parametrize("name", KEYS)
def test_numbers_stand_where_colours_change_and_depths_are_to_scale(name: str) -> None:
    key = KEYS[name]
    drawing = section(name, (320, 180))
    words = texts(drawing)[: len(key.edges_mm)]
    top, level = surface(drawing), line_y(drawing)
    at = np.array([text.x for text in words])
    low = np.interp(at, *top.T) - level
    # closed form of the stated scale: y from the line goes as asinh of the depth over what is drawn evenly
    scale = low[-1] / math.asinh(key.edges_mm[-1] / key.even_mm)
    np.testing.assert_allclose(low, scale * np.arcsinh(key.edges_mm / key.even_mm), atol=1e-6 * scale)
    for x, edge in zip(at, key.edges_mm, strict=True):
        left, right = (key.steps[row].colour for row in step_of([edge - 1e-6, edge + 1e-6], key))
        assert any(shape.fill == left and abs(shape.points[:, 0].max() - x) < 1e-6 for shape in fills(drawing))
        assert any(shape.fill == right and abs(shape.points[:, 0].min() - x) < 1e-6 for shape in fills(drawing))
        number = next(text for text in words if text.x == x)
        assert (number.y < level) == (edge > 0)
        # the tick points at its number
        ticks = [s.points for s in drawing.shapes if isinstance(s, Line) and (s.points[:, 0] == x).all()]
        assert len(ticks) == 1
        assert (ticks[0][:, 1].mean() < level) == (edge > 0)


def test_passes_end_at_their_depths_from_metal_to_metal() -> None:
    drawing = legend_section(legend(), 320, 180, LayUp(3.0, 1.0, 0.02, "filler"))
    lines = [shape.points for shape in drawing.shapes if isinstance(shape, Line) and shape.colour == PASS]
    top, level = surface(drawing), line_y(drawing)
    words = texts(drawing)
    ten = np.interp([text.x for text in words if text.text == "10"], *top.T)[0] - level
    # the stated asinh scale, set by where 10 mm lies; the metal goes 14 mm deep. Laid 1 mm proud, a place d deep takes
    # d / 0.98 + 1, so a pass of 3 mm ends at 0.98 (3 k - 1)
    expected = level + ten * np.arcsinh(0.98 * np.array([2.0, 5.0, 8.0, 11.0, 14.0])) / math.asinh(10)
    np.testing.assert_allclose([points[0, 1] for points in lines], expected, rtol=1e-9)
    for points in lines:
        assert points[0, 1] == points[1, 1]
        # between points of the metal's chain, half a unit apart in x, on slopes of up to ten
        assert np.abs(np.interp(points[:, 0], *top.T) - points[:, 1]).max() < 5.0
        inside = (top[:, 0] >= points[0, 0]) & (top[:, 0] <= points[1, 0])
        assert (top[inside, 1] >= points[0, 1]).all()
    assert [text.text for text in words][-3:] == ["Below the line: fill", "laid 1.0 mm proud", "in passes of 3 mm"]


def test_passes_too_thin_to_tell_apart_are_left_out() -> None:
    drawing = legend_section(legend(), 320, 180, LayUp(0.05, 0.0, 0.0, "filler"))
    assert not [shape for shape in drawing.shapes if isinstance(shape, Line) and shape.colour == PASS]
    assert texts(drawing)[-1].text == "Below the line: fill"


def test_a_check_speaks_of_filing() -> None:
    drawing = legend_section(KEYS["check"], 320, 180, LayUp(1.0, 1.0, 0.0, "solder"))
    assert [text.text for text in texts(drawing)][-2:] == ["Above the line: left to file", "Below the line: short"]
    assert any(isinstance(shape, Polygon) and shape.fill == FRESH for shape in drawing.shapes)


# Not where there is no room for the words, or where nothing is laid.
@pytest.mark.parametrize("name", sorted(set(KEYS) - {"check", "huge", "shallow"} - set(MAP_WORDS)))
def test_what_is_laid_proud_stands_on_the_line_over_the_whole_fill(name: str) -> None:
    drawing = legend_section(KEYS[name], 320, 180, LAID["solder"])
    (proud,) = [s.points for s in drawing.shapes if isinstance(s, Polygon) and s.fill == FRESH]
    top, level = surface(drawing), line_y(drawing)
    assert proud[:, 1].max() == level
    assert proud[:, 1].min() < level
    low = top[top[:, 1] > level + 1e-6, 0]
    first = texts(drawing)[KEYS[name].true_step].x  # where true ends and low begins
    assert proud[:, 0].min() < first
    assert proud[:, 0].max() >= low[low > first].max()
    rows = [text.text for text in texts(drawing)]
    assert ("laid 0.043 in proud" if "inch" in name else "laid 1.1 mm proud") in rows
    assert not [s for s in legend_section(KEYS[name], 320, 180).shapes if isinstance(s, Polygon) and s.fill == FRESH]


def test_text_can_be_read_in_window_and_on_paper() -> None:
    # sizes: common practice, no source: 9 px on a screen, 7 point (2.47 mm) on paper
    for name in ("plain", "solder", "check", "inch"):
        assert texts(legend_section(KEYS[name], 320, 180))[0].size >= 9
        assert texts(legend_section(KEYS[name], 90, 60))[0].size >= 2.47


def test_smaller_text_and_same_answer_at_any_scale() -> None:
    small = legend_section(legend(), 320, 180, text_size=6)
    assert {text.size for text in texts(small)} == {6.0}
    check_room(small)
    once, double = legend_section(legend(), 320, 180), legend_section(legend(), 640, 360)
    for a, b in zip(once.shapes, double.shapes, strict=True):
        if isinstance(a, Text) and isinstance(b, Text):
            assert (b.x, b.y, b.text) == (pytest.approx(2 * a.x), pytest.approx(2 * a.y), a.text)


def test_metal_runs_smoothly_without_overshoot() -> None:
    # witness: scipy's PCHIP, which uses the same slopes (Fritsch & Butland 1984)
    rng = np.random.default_rng(3)
    knot_x = np.cumsum(rng.uniform(0.5, 3.0, 12))
    knot_y = np.concatenate([[0.0, 0.0], rng.normal(size=8), [1.0, 1.0]])  # flat ends, so that end slopes agree
    x = np.linspace(knot_x[0], knot_x[-1], 400)
    np.testing.assert_allclose(cut_layout._smooth(knot_x, knot_y, x), PchipInterpolator(knot_x, knot_y)(x), atol=1e-12)
    top = surface(legend_section(legend(), 320, 180))[:, 1]
    assert (np.diff(top[top.argmin() : top.argmax() + 1]) >= 0).all()


@pytest.mark.parametrize("name", KEYS)
def test_sheet_is_as_thick_everywhere(name: str) -> None:
    place = cut_layout.layout(KEYS[name], 320, 180, None)
    under = cut_layout.below_surface(place, 1.0)
    # brute force: distance of each point of the underside from 20 000 points of the upper side
    x = np.linspace(place.left, place.right, 20_000)
    top = np.column_stack([x, np.interp(x, place.x, place.y)])
    apart = np.array([np.hypot(*(top - point).T).min() for point in under])
    np.testing.assert_allclose(apart, cut_layout.SHEET * place.size, rtol=0.02)


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"width": 0, "height": 60}, "a drawing of 0 by 60 was asked for"),
        ({"width": 90, "height": math.nan}, "a drawing of 90 by nan was asked for"),
        ({"width": 90, "height": 60, "lay_up": LayUp(0.0, 1.0, 0.0, "filler")}, "a pass of 0 mm came"),
        ({"width": 90, "height": 60, "text_size": 9.0}, "text of size 9 does not fit 90 by 60; use at most 2."),
        ({"width": 90, "height": 60, "text_size": -1.0}, "text of size -1 does not fit"),
    ],
)
def test_drawings_that_cannot_be_made(settings: dict[str, Any], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        legend_section(legend(), **settings)
