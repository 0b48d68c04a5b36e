"""A picture's page: where title, map, table and legend go, and all of it but the map as plain shapes.

Laid out for A4 across (297 by 210 mm) and just as well for a screen; every measure goes by the size of the text.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..bench.lay_up import LayUp
from ..errors import InputError
from ..legend import shop_units as shop
from ..legend.band import OUT_OF_DATE, stamp
from ..legend.drawing import Drawing, Line, Shape, Text, moved
from ..legend.legend import INCH_MM, Colour, Legend
from ..legend.legend_section import INK, legend_section
from ..legend.texts import cut_short
from ..report import laying_words

A4_MM = 297.0  # what a picture's width is in print
LEAST = (640, 450)
MOST = 8_000
ACROSS, DOWN = 70.0, 49.5  # the page in text sizes, so that A4 and its text fill each other
MARGIN, TITLE, FOOT = 2.2, 7.7, 11.6  # in text sizes: around all, title above the map, table and legend below it
BAR = 1.9  # under the map, for its scale
LEGEND_SHARE = 0.5  # of the width
QUIET: Colour = (104, 108, 114)
_ENDS, _LAST = (9.0, 14.5, 20.0), 21.6  # of the table, in text sizes: figures end there, the last column starts there
_LINE = 1.5


@dataclass(frozen=True)
class Box:
    """A part of the page, in pixels from its upper left corner."""

    left: int
    top: int
    width: int
    height: int

    @property
    def aspect(self) -> float:
        """Width over height."""
        return self.width / self.height


@dataclass(frozen=True)
class Sheet:
    """A page of ``width`` by ``height`` pixels, its text's ``size`` and the boxes of map and legend."""

    width: int
    height: int
    size: float
    map: Box
    legend: Box

    @property
    def margin(self) -> float:
        """Pixels left free around all."""
        return MARGIN * self.size


@dataclass(frozen=True)
class Caption:
    """What the page says: whose ``panel``, which view and when (``aside``), ``lines`` below, the areas' ``table``, and
    whether the plan is ``out_of_date``."""

    panel: str
    aside: str
    lines: tuple[str, ...]
    table: tuple[tuple[str, ...], ...]
    out_of_date: bool = False


def sheet(width: int, height: int) -> Sheet:
    """The page's parts. Raises InputError for a size that can't hold them.

    >>> page = sheet(2100, 1485)
    >>> page.map.width, page.map.top + page.map.height < page.legend.top
    (1968, True)
    >>> sheet(100, 100)
    Traceback (most recent call last):
    ...
    core.errors.InputError: picture: 100 by 100 pixels came; 640 by 450 is the least and 8000 the most
    """
    if not (LEAST[0] <= width <= MOST and LEAST[1] <= height <= MOST):
        least = f"{LEAST[0]} by {LEAST[1]} is the least and {MOST} the most"
        raise InputError(f"picture: {width} by {height} pixels came; {least}")
    size = min(width / ACROSS, height / DOWN)
    margin, top, foot = (round(share * size) for share in (MARGIN, MARGIN + TITLE, FOOT))
    bottom = height - margin - foot
    legend_width = round(LEGEND_SHARE * (width - 2 * margin))
    return Sheet(
        width, height, size,
        Box(margin, top, width - 2 * margin, bottom - round(BAR * size) - top),
        Box(width - margin - legend_width, bottom, legend_width, foot),
    )


def caption(
    record: dict[str, Any], panel: str, view: str, date: str, unit: str, out_of_date: bool = False
) -> Caption:
    """The words for a plan's ``record`` (plan.json): fill, overbuild, material, finish, and a row for each area."""
    fill = f"Fill {shop.volume(record['fill_volume_mm3'], unit)}"
    first = [f"{fill}, give or take {shop.volume(record['fill_volume_u95_mm3'], unit)}"]
    highs = [area["depth_max_mm"] for area in record["areas"] if area["kind"] == "high"]
    if highs:
        first.append(f"highs up to {shop.length(max(highs), unit)}")
    second = [record["material"]["title"]]
    if record["fill_volume_mm3"]:
        least, raised = record["overbuild"]["minimum_mm"], record.get("raised")
        first.append(f"lay at least {shop.length(least, unit)} proud")
        need, start = (record["material"], "") if raised is None else (raised, "raised first: ")
        second.append(f"{start}{laying_words.to_lay(need, unit)} to lay, {laying_words.to_buy(need, unit)} to buy")
    finish = _finish(record["settings"]["finish_mm"], unit)
    aside = f"{view}, {date}" if date else view
    return Caption(panel, aside, ("   ".join(first), "   ".join(second), finish), tuple(_rows(record, unit)),
                   out_of_date)


def page(place: Sheet, words: Caption, key: Legend | None, lay_up: LayUp | None = None) -> Drawing:
    """All that every view's page has: without ``key`` no legend and no table, the page of a photograph."""
    size, left = place.size, place.margin
    shapes: list[Shape] = [
        Text(left, left + 1.5 * size, cut_short(words.panel.replace("_", " "), 34), 2.0 * size, INK),
        *(Text(left, left + (3.6 + _LINE * k) * size, line, size, INK) for k, line in enumerate(words.lines)),
    ]
    if key is not None:
        shapes += _table(place, words.table)
        legend = legend_section(key, place.legend.width, place.legend.height, lay_up)
        shapes += [moved(shape, place.legend.left, place.legend.top) for shape in legend.shapes[1:]]
    return Drawing(float(place.width), float(place.height), tuple(shapes))


def aside(place: Sheet, words: Caption) -> tuple[Box, Drawing]:
    """Which view and when, in the upper right corner, and under it that the plan is out of date where it is: where that
    goes, and the drawing that fits there."""
    size = place.size
    box = Box(place.width // 2, round(0.5 * place.margin), place.width - round(place.margin) - place.width // 2,
              round((5.5 if words.out_of_date else 3) * size))
    baseline = place.margin + 1.5 * size - box.top
    shapes: list[Shape] = [Text(box.width, baseline, words.aside, size, QUIET, "end")]
    if words.out_of_date:
        shapes += stamp(float(box.width), baseline + 0.7 * size, OUT_OF_DATE, size)
    return box, Drawing(float(box.width), float(box.height), tuple(shapes))


def scale_bar(place: Sheet, pixels_per_mm: float, unit: str) -> tuple[Box, Drawing]:
    """A bar of a round length, about a seventh of the map's width, under the map on the right: where, and the drawing.

    >>> place = sheet(2100, 1485)
    >>> scale_bar(place, 2.0, "mm")[1].shapes[-1].text, scale_bar(place, 2.0, "inch")[1].shapes[-1].text
    ('100 mm', '5 in')
    """
    mm = INCH_MM if unit == "inch" else 1.0
    longest = place.map.width / 7 / pixels_per_mm / mm
    power = 10.0 ** math.floor(math.log10(longest))
    count = max(m for m in (1, 2, 5) if m * power <= longest) * power
    length, size = count * mm * pixels_per_mm, place.size
    box = Box(place.map.left + place.map.width // 2, place.map.top + place.map.height, place.map.width // 2,
              round(BAR * size))
    right, y, rise = box.width - 0.1 * size, 1.1 * size, 0.35 * size
    ways = (((right - length, y), (right, y)), *(((x, y), (x, y - rise)) for x in (right - length, right)))
    bar = (Line(np.array(way), QUIET, 0.1 * size) for way in ways)
    words = Text(right - length - 0.6 * size, y, f"{count:g} {'in' if unit == 'inch' else 'mm'}", size, QUIET, "end")
    return box, Drawing(float(box.width), float(box.height), (*bar, words))


def _finish(finish_mm: float, unit: str) -> str:
    if finish_mm > 0:
        return f"{_fine(finish_mm, unit)} of paint taken off the finished shape"
    if finish_mm < 0:
        return f"finished shape moved out by {_fine(-finish_mm, unit)}"
    return "finished shape as it is: no paint taken off"


def _rows(record: dict[str, Any], unit: str) -> Iterable[tuple[str, ...]]:
    for area in record["areas"]:
        name, depth = f"{area['kind'].capitalize()} {area['number']}", shop.length(area["depth_max_mm"], unit)
        if area["kind"] == "high":
            size = laying_words.size_across(area["length_mm"], area["width_mm"], unit)
            yield name, depth, "", size, area.get("work", "bring it down")
            continue
        thickness = f"{shop.length(area['to_lay_mm'], unit)} to lay, " if "to_lay_mm" in area else ""
        last = thickness + laying_words.layers(area["passes"], record["material"]["kind"])
        yield name, depth, shop.area(area["area_mm2"], unit), shop.volume(area["volume_mm3"], unit), last


def _table(place: Sheet, rows: tuple[tuple[str, ...], ...]) -> Iterable[Text]:
    """The areas at the foot on the left; as many rows as there is room for, and how many more there are."""
    size, left, top = place.size, place.margin, place.legend.top + 1.2 * place.size
    room = int((FOOT - 1.2) / _LINE) + 1
    shown = rows if len(rows) <= room else rows[: room - 1]
    for k, row in enumerate(shown):
        y = top + _LINE * k * size
        yield Text(left, y, row[0], size, INK)
        for end, cell in ((end, cell) for end, cell in zip(_ENDS, row[1:4], strict=True) if cell):
            yield Text(left + end * size, y, cell, size, INK, "end")
        yield Text(left + _LAST * size, y, row[4], size, INK)
    if len(shown) < len(rows):
        yield Text(left, top + _LINE * len(shown) * size, f"and {len(rows) - len(shown)} more", size, QUIET)


def _fine(mm: float, unit: str) -> str:
    return f"{mm / INCH_MM:.4f} in" if unit == "inch" else f"{mm:.2f} mm"
