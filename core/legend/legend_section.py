"""The legend drawn as a cut through a panel, as plain shapes that window, PDF and SVG draw alike.

From the left the metal rises above the finished line (high), crosses it (true), sinks below it step by step
(low, deeper than the material may go), climbs back, and runs on past the line's end (not judged). What lies
between metal and line has its step's colour; numbers stand where one step ends and the next begins.
Depths are drawn on an asinh scale (even near true, by ratios further out), so that a quarter of a millimetre
shows beside ten. x runs right and y **down**, in the unit that width and height are given in.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..bench.lay_up import LayUp
from ..errors import InputError
from . import shop_units as shop
from .drawing import CHARACTER, Drawing, Line, Polygon, Shape, Text
from .legend import UNIT_WORD, Colour, Legend, length_words, step_of
from .section_layout import FLAT, PROUD, SHEET, Layout, below_surface, edge_words, layout

CARD: Colour = (229, 231, 233)
INK: Colour = (40, 43, 48)
STEEL: Colour = (146, 151, 158)
FRESH: Colour = (196, 199, 203)  # newly laid solder or filler, in a check, and what is laid to be filed off
PASS: Colour = (250, 249, 246)


@dataclass(frozen=True)
class CutWords:
    """What a cut says: what lies ``above`` and ``below`` the line, "" where nothing does, and what is on it."""

    above: str
    below: str
    on_line: str


WORDS = {
    "plan": CutWords("Above the line: highs", "Below the line: fill", "true"),
    "check": CutWords("Above the line: left to file", "Below the line: short", "enough"),
}


def legend_section(
    key: Legend, width: float, height: float, lay_up: LayUp | None = None, text_size: float | None = None,
    words: CutWords | None = None,
) -> Drawing:
    """The legend as a cut through a panel, ``width`` by ``height`` in any one unit.

    ``lay_up``: where given, and in a plan, what is laid proud of the finished line, in no scale, and lines across the
    fill from which on one pass more is laid, overbuild and all, as on the map; left out where they would lie too close
    to tell apart. ``text_size`` in the same unit; the largest that fits if not given. ``words`` of another map's own.
    Raises `InputError` where size, pass or text can't be drawn.

    >>> from .legend import legend
    >>> drawing = legend_section(legend(greatest_mm=3.2), 320, 180)
    >>> [shape.text for shape in drawing.shapes if isinstance(shape, Text)][-5:]
    ['not', 'measured', 'true', 'Above the line: highs', 'Below the line: fill']
    >>> legend_section(legend(), 0, 180)
    Traceback (most recent call last):
    ...
    core.errors.InputError: legend: a drawing of 0 by 180 was asked for; both must be more than 0
    """
    if not (math.isfinite(width) and math.isfinite(height) and width > 0 and height > 0):
        raise InputError(f"legend: a drawing of {width:g} by {height:g} was asked for; both must be more than 0")
    if lay_up is not None and not lay_up.pass_mm > 0:
        raise InputError(f"legend: a pass of {lay_up.pass_mm:g} mm came; more than 0 mm is wanted")
    place = layout(key, width, height, text_size)
    card = Polygon(np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]), CARD)
    laid = lay_up if key.kind == "plan" else None
    passes, proud = _passes(place, laid), _proud(place, laid)
    shapes: list[Shape] = [card, *_sheet(place), *_between(place), *proud, *passes, *_lines(place), *_numbers(place)]
    said = words or WORDS[key.kind]
    shapes += [*_on_line(place, said.on_line), *_words(place, said, laid, bool(passes))]
    return Drawing(float(width), float(height), tuple(shapes))


def _sheet(place: Layout) -> list[Polygon]:
    """The sheet, its top along the metal's surface; past the line's end dark with dots."""
    judged, past = place.x <= place.rim, place.x >= place.rim
    layers = [(judged, 0.0, 1.0, STEEL)]
    if place.key.kind == "check":
        layers = [(judged, 0.0, 0.6, FRESH), (judged, 0.6, 1.0, STEEL)]
    layers.append((past, 0.0, 1.0, place.key.steps[-1].colour))
    shapes = []
    for rows, near, far, fill in layers:
        upper, lower = below_surface(place, near)[rows], below_surface(place, far)[rows]
        shapes.append(Polygon(np.vstack([upper, lower[::-1]]), fill, dots=rows is past))
    return shapes


def _between(place: Layout) -> list[Polygon]:
    """What lies between metal and finished line, cut where steps end, each in its step's colour."""
    middle = (place.fall[:-1] + place.fall[1:]) / 2
    row = step_of(place.depth_of(middle), place.key)
    first = np.flatnonzero(np.append(True, (np.diff(row) != 0) | (np.diff(np.sign(middle)) != 0)))
    shapes = []
    for start, end in zip(first, np.append(first[1:], len(row)), strict=True):
        if middle[start] == 0:
            continue
        x, y = place.x[start : end + 1], place.y[start : end + 1]
        outline = [*zip(x, y, strict=True), (x[-1], place.line_y), (x[0], place.line_y)]
        step = place.key.steps[row[start]]
        shapes.append(Polygon(np.array(outline), step.colour, hatch=step.hatch))
    return shapes


def _proud(place: Layout, lay_up: LayUp | None) -> list[Polygon]:
    """What is laid above the finished line, to be filed off: from the middle of true to where the dent ends."""
    if lay_up is None or not lay_up.overbuild_mm > 0:
        return []
    start = float(place.edge_x[place.key.true_step - 1 : place.key.true_step + 1].mean())
    end, slope, top = place.rim - FLAT * place.size, 0.3 * place.size, place.line_y - PROUD * place.size
    return [Polygon(np.array([[start, place.line_y], [start + slope, top], [end - slope, top], [end, place.line_y]]),
                    FRESH)]


def _passes(place: Layout, lay_up: LayUp | None) -> list[Line]:
    """Level lines across the fill, at the depths from which on one pass more is laid."""
    if lay_up is None:
        return []
    ends = lay_up.ends_mm(float(place.depth_of(place.fall).max()))
    y = place.line_y + place.scale * place.fall_of(ends)
    lines = []
    for level in y[np.diff(y, prepend=place.line_y) >= 0.35 * place.size]:
        inside = place.x[place.y >= level]
        lines.append(Line(np.array([[inside[0], level], [inside[-1], level]]), PASS, 0.12 * place.size))
    return lines


def _lines(place: Layout) -> list[Line]:
    """The sheet's two sides, the finished line across, and a tick at each edge between steps."""
    size, line_y = place.size, place.line_y
    lines = [
        Line(below_surface(place, 1.0), INK, 0.04 * size),
        Line(np.column_stack([place.x, place.y]), INK, 0.1 * size),
        Line(np.array([[place.left, line_y], [place.rim, line_y]]), INK, 0.2 * size),
    ]
    for x, edge in zip(place.edge_x, place.key.edges_mm, strict=True):
        tip = line_y - math.copysign(0.35 * size, edge)
        lines.append(Line(np.array([[x, line_y], [x, tip]]), INK, 0.1 * size))
    return lines


def _numbers(place: Layout) -> list[Text]:
    """The numbers along the line, each on the side away from its colour; where it is not judged."""
    size = place.size
    above, below = place.line_y - 0.5 * size, place.line_y + 1.3 * size
    texts = [
        Text(float(x), above if edge > 0 else below, word, size, INK, "middle")
        for x, edge, word in zip(place.edge_x, place.key.edges_mm, edge_words(place.key), strict=True)
    ]
    unit_x = float(place.edge_x[-1]) + (CHARACTER * len(texts[-1].text) / 2 + 0.3) * size
    texts.append(Text(unit_x, above, UNIT_WORD[place.key.unit], size, INK))
    tail = place.right + (0.5 - CHARACTER * len("measured") / 2) * size
    return [
        *texts,
        Text(tail, below, "not", size, INK, "middle"),
        Text(tail, below + 1.1 * size, "measured", size, INK, "middle"),
    ]


def _on_line(place: Layout, word: str) -> list[Text]:
    """The word for true above the middle of its step, further right where high metal would be in its way."""
    size, true = place.size, place.key.true_step
    if not word:
        return []
    baseline = place.line_y - 1.8 * size
    middle = float(place.edge_x[true - 1 : true + 1].mean() if true else (place.left + place.edge_x[0]) / 2)
    flank = float(place.x[place.y < baseline + 0.45 * size].max(initial=place.left - 0.4 * size))
    return [Text(max(middle - CHARACTER * len(word) / 2 * size, flank + 0.4 * size), baseline, word, size, INK)]


def _words(place: Layout, said: CutWords, lay_up: LayUp | None, with_passes: bool) -> list[Text]:
    """What lies above and below the line, beside the high metal at the top and beside the dent at the bottom."""
    size = place.size
    top, bottom = place.top + 0.8 * size, place.bottom - 0.2 * size
    flank = float(place.x[place.y < top + 0.6 * size].max(initial=place.left)) + 0.8 * size
    texts = [Text(flank, top, said.above, size, INK)] if said.above else []
    rows = [said.below]
    room = int((place.bottom - place.line_y - 3.6 * size) / (1.3 * size))  # rows more than the first
    rows += [] if lay_up is None else _laying(lay_up, with_passes, place.key.unit)[: max(0, room)]
    baselines = [bottom - 1.3 * size * n for n in range(len(rows))][::-1]
    dent = float(place.x[place.y > baselines[0] - 1.8 * size].min()) - (0.8 + SHEET) * size
    start = dent - CHARACTER * size * max(map(len, rows))
    return [*texts, *(Text(start, y, row, size, INK) for y, row in zip(baselines, rows, strict=True))]


def _laying(lay_up: LayUp, with_passes: bool, unit: str) -> list[str]:
    """How the fill is laid: how far proud, and in what passes."""
    rows = [f"laid {shop.length(lay_up.overbuild_mm, unit)} proud"] if lay_up.overbuild_mm > 0 else []
    if with_passes:
        one = length_words(lay_up.pass_mm, unit)
        rows.append(f"layers of about {one}" if lay_up.kind == "solder" else f"in passes of {one}")
    return rows
