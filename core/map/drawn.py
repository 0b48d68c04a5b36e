"""Lines drawn on a panel, in layers of one colour each, as plain arrays. Needs numpy only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..legend.drawing import DOT, HATCH
from ..legend.legend import Colour
from ..legend.legend_section import INK, PASS

Floats = NDArray[np.float64]
Array = NDArray[np.generic]

CONTOURS, PALE, HATCHED, DOTS, DOTS_FAR = "contours", "contours_pale", "hatch", "dots", "dots_far"
COLOURS: dict[str, Colour] = {CONTOURS: INK, PALE: PASS, HATCHED: HATCH, DOTS: DOT, DOTS_FAR: DOT}
LAYERS = tuple(COLOURS)


@dataclass(frozen=True, eq=False)
class DrawnLine:
    """One line of a layer: points (k, 3), ``width`` (k,) at each or one for all, and whether it closes on itself."""

    layer: str
    points: Floats
    width: Floats | float
    closed: bool = False


def packed(lines: Iterable[DrawnLine], origin: Floats, per_unit: float) -> dict[str, Array]:
    """The lines as arrays to be kept: points about ``origin``, and widths, divided by ``per_unit``.

    ``drawn_points`` (k, 3); ``drawn_width`` (k,); ``drawn_starts`` (c + 1,); ``drawn_layer`` (c,), a row of LAYERS;
    ``drawn_closed`` (c,).
    """
    kept = [line for line in lines if len(line.points) >= 2]
    counts = [len(line.points) for line in kept]
    points = np.concatenate([line.points for line in kept]) if kept else np.empty((0, 3))
    widths = [np.broadcast_to(line.width, (len(line.points),)) for line in kept]
    return {
        "drawn_points": ((points + origin) / per_unit).astype(np.float64),
        "drawn_width": (np.concatenate(widths) / per_unit if kept else np.empty(0)).astype(np.float32),
        "drawn_starts": np.cumsum([0, *counts]),
        "drawn_layer": np.array([LAYERS.index(line.layer) for line in kept], dtype=np.int8),
        "drawn_closed": np.array([line.closed for line in kept], dtype=bool),
    }


def unpacked(arrays: dict[str, Any], layer: str) -> list[DrawnLine]:
    """The lines of one layer, from what `packed` gave."""
    points, width, starts = arrays["drawn_points"], arrays["drawn_width"], arrays["drawn_starts"]
    closed = arrays["drawn_closed"]
    rows = np.flatnonzero(arrays["drawn_layer"] == LAYERS.index(layer))
    return [
        DrawnLine(layer, points[starts[k] : starts[k + 1]], width[starts[k] : starts[k + 1]], bool(closed[k]))
        for k in rows
    ]
