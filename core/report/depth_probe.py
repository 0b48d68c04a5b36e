"""What is read at one point of a planned panel, in words for the shop. Needs numpy only."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..bench.highs import comes_off
from ..legend import shop_units as shop
from ..legend.legend import INCH_MM, UNIT_WORD, length_words, number_words
from . import laying_words


@dataclass(frozen=True)
class DepthProbe:
    """Depth at a point, mm, positive below the finished shape, or None where it isn't judged; the ``place`` of its
    area in the plan's areas from 1, or 0; and the same in words: a heading and rows under it."""

    depth_mm: float | None
    place: int
    heading: str
    rows: tuple[str, ...]


def probed(
    weights: ArrayLike, depth_mm: ArrayLike, area: ArrayLike, record: dict[str, Any], unit: str = "mm",
) -> DepthProbe:
    """The reading at a point of a face with ``weights`` (k,) of its corners, their ``depth_mm`` (k,) and ``area`` (k,).

    Not judged where a corner that weighs anything is nan. The area is that of the heaviest corner that lies in one.
    ``record``: the plan as `plan_record` has it.

    >>> plan = {"settings": {"true_mm": 0.25}, "areas": []}
    >>> probed([0.5, 0.5, 0.0], [0.1, 0.3, np.nan], [0, 0, 0], plan).heading
    'True, 0.2 mm low'
    >>> probed([0.5, 0.5], [0.1, np.nan], [0, 0], plan).heading
    'Not measured'
    """
    share, depths, places = np.asarray(weights, float), np.asarray(depth_mm, float), np.asarray(area, np.int64)
    counts = share > 1e-9
    place = _place(share, places)
    if not np.isfinite(depths[counts]).all():
        return DepthProbe(None, 0, "Not measured", ("no depth to be trusted here", *_beyond(record, unit)))
    depth = float(share[counts] @ depths[counts] / share[counts].sum())
    work = record["areas"][place - 1] if place else None
    rows: tuple[str, ...] = ()
    if work is not None:
        rows = (f"{work['kind'].capitalize()} {work['number']}", *_laying(depth, work, record, unit))
    return DepthProbe(depth, place, _heading(depth, record["settings"]["true_mm"], unit), rows)


def depth_words(depth_mm: float, unit: str) -> str:
    """A depth as one chalks it, to a tenth of a millimetre or the nearest 64th: "4.5 mm", "3/16 in".

    >>> depth_words(4.46, "mm"), depth_words(4.7, "inch"), depth_words(0.0, "mm")
    ('4.5 mm', '3/16 in', '0 mm')
    """
    part = INCH_MM / 64 if unit == "inch" else 0.1
    return f"{number_words(round(depth_mm / part) * part, unit)} {UNIT_WORD[unit]}"


def depth_note(depth_mm: float | None, true_mm: float, unit: str = "mm") -> str:
    """A reading as one chalks it: "Low 4.5 mm", "High 0.4 mm", "True", "Not Measured".

    >>> depth_note(4.46, 0.25), depth_note(-0.41, 0.25), depth_note(0.1, 0.25), depth_note(None, 0.25)
    ('Low 4.5 mm', 'High 0.4 mm', 'True', 'Not Measured')
    """
    if depth_mm is None:
        return "Not Measured"
    if abs(depth_mm) <= true_mm:
        return "True"
    return f"{'Low' if depth_mm > 0 else 'High'} {depth_words(abs(depth_mm), unit)}"


def _beyond(record: dict[str, Any], unit: str) -> tuple[str, ...]:
    """What to do where it lies beyond the reach, on a panel of which some does."""
    if not record.get("not_judged_mm2", {}).get("too_far"):
        return ()
    reach = length_words(record["settings"]["reach_mm"], unit)
    return (f"if it lies deeper than {reach}: rough it out first, then scan again",)


def _place(share: np.ndarray[Any, Any], places: np.ndarray[Any, Any]) -> int:
    inside = np.flatnonzero((places > 0) & (share > 1e-9))
    return int(places[inside[np.argmax(share[inside])]]) if len(inside) else 0


def _heading(depth: float, true_mm: float, unit: str) -> str:
    size = _words(abs(depth), unit)
    side = "low" if depth > 0 else "high"
    if abs(depth) <= true_mm:
        return "True" if size == _words(0.0, unit) else f"True, {size} {side}"
    return f"{side.capitalize()} {size}"


def _laying(depth: float, work: dict[str, Any], record: dict[str, Any], unit: str) -> tuple[str, ...]:
    """What to do there; what is laid is counted with the job's greatest overbuild, as in list, map and legend."""
    if work["kind"] != "low":
        return (work.get("work", "bring it down"),)  # a file saved before these were kept has none
    lay_up, limit = laying_words.lay_up_of(record), record["material"]["greatest_depth_mm"]
    rows = [
        f"{_words(lay_up.thickness_mm(depth), unit)} to lay, {laying_words.layers(lay_up.count(depth), lay_up.kind)}",
        f"lay at least {_words(lay_up.overbuild_mm, unit)} proud, to file",
    ]
    if depth > limit:
        first = comes_off(record["settings"].get("surface", "bare"))
        rows.append(f"deeper than {length_words(limit, unit)}: {first}bring the metal up first")
    return tuple(rows)


def _words(length_mm: float, unit: str) -> str:
    """To a tenth of a millimetre, or a thousandth of an inch."""
    return shop.length(length_mm, unit)
