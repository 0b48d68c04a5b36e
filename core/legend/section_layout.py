"""Where everything lies in the legend's cut: the metal's line, the edges between steps, the size of the text.

All follows from the drawing's size and the numbers that must stand side by side. x runs right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from .drawing import CHARACTER
from .legend import INCH_MM, Legend, number_words

Floats = NDArray[np.float64]

# Widths in text sizes, from the left: sound metal, the crest's near side, half an open step, the narrowest step,
# the gap between two numbers (wider across true, where the sheet passes between them), the dent's far side, the
# stretch past the line's end.
FLAT, CLIMB, OPEN, STEP, GAP, TRUE_GAP, RISE, TAIL = 1.1, 2.0, 1.2, 2.0, 0.45, 1.05, 1.9, 3.4
MARGIN, SHEET = 0.6, 0.5  # around all, and the sheet's thickness, in text sizes
LEAST_WIDTH, LEAST_HEIGHT = 30.0, 13.5  # of the whole, in text sizes: the words beside crest and dent need them
STEEPEST = 0.7  # height over width up to which the cut is stretched; in a taller drawing it is centred
PROUD = 1.5  # how far above the finished line what is laid proud is drawn: over the numbers there, in no scale
ABOVE = 3.0  # over the line where no high metal is drawn, for the numbers there
_FINE_MM = 0.1
CREST, PIT = 1.6, 1.4  # how far the open steps are drawn beyond their edges, as ratios


@dataclass(frozen=True)
class Layout:
    """Where things lie: the metal's surface, the edges between steps, the finished line from left to rim."""

    key: Legend
    size: float  # of text; every other measure goes by it
    x: Floats  # along the metal's surface, with a point wherever a step ends
    fall: Floats  # the metal's depth there on the drawing's scale, low positive
    y: Floats
    edge_x: Floats
    line_y: float
    scale: float  # y for a fall of 1
    rim: float
    left: float
    right: float
    top: float  # y of the crest
    bottom: float  # y of the sheet's underside in the dent

    def fall_of(self, depth_mm: Floats) -> Floats:
        """Depths (k,) on the drawing's scale."""
        fall: Floats = np.arcsinh(depth_mm / self.key.even_mm)
        return fall

    def depth_of(self, fall: Floats) -> Floats:
        """The way back, mm."""
        depth: Floats = np.sinh(fall) * self.key.even_mm
        return depth


def edge_words(key: Legend) -> list[str]:
    """The number at each edge between steps, without its unit."""
    return [_number(abs(float(edge)), key.unit) for edge in key.edges_mm]


def _number(mm: float, unit: str) -> str:
    """As everywhere; what that would round to nothing as a decimal of two figures."""
    return f"{mm / INCH_MM:.2g}" if unit == "inch" and mm < _FINE_MM else number_words(mm, unit)


def layout(key: Legend, width: float, height: float, text_size: float | None) -> Layout:
    """The layout for a drawing of ``width`` by ``height``, text as large as fits where no size is given.

    Raises `InputError` where the asked text does not fit.
    """
    gaps, climb = _gaps(key), CLIMB if key.true_step else 0.0
    across = 2 * (MARGIN + FLAT + OPEN) + climb + float(gaps.sum()) + RISE + TAIL
    used = min(height, STEEPEST * width)
    fits = min(width / max(across, LEAST_WIDTH), used / LEAST_HEIGHT)
    size = fits if text_size is None else float(text_size)
    if not 0 < size <= fits * 1.0001:
        raise InputError(f"legend: text of size {size:g} does not fit {width:g} by {height:g}; use at most {fits:.3g}")
    left, right = MARGIN * size, width - MARGIN * size
    top, bottom = (height - used) / 2 + MARGIN * size, (height + used) / 2 - MARGIN * size
    crest, rim = left + (FLAT + climb) * size, right - TAIL * size
    pit = rim - (FLAT + RISE) * size
    room = pit - crest - 2 * OPEN * size
    edge_x = crest + OPEN * size + np.append(0.0, np.cumsum(gaps)) * room / gaps.sum()
    edges = key.edges_mm / key.even_mm
    flat_x, flat, high_x, high = [left, left + FLAT * size], [0.0, 0.0], [crest], [edges[0] * CREST]
    if not key.true_step:
        high_x, high = [], []
    knot_x = np.array([*flat_x, *high_x, *edge_x, pit, rim - FLAT * size, rim, right])
    knot_fall = np.arcsinh([*flat, *high, *edges, edges[-1] * PIT, 0.0, 0.0, 0.0])
    x, fall = _surface(knot_x, knot_fall, np.append(np.arcsinh(edges), 0.0))
    over = 0.0 if key.true_step else ABOVE * size
    scale = (bottom - SHEET * size - top - over) / float(np.ptp(knot_fall))
    line_y = top + over - scale * float(knot_fall.min())
    return Layout(key, size, x, fall, line_y + scale * fall, edge_x, line_y, scale, rim, left, right, top, bottom)


def _gaps(key: Legend) -> Floats:
    """Least distance from each edge to the next, in text sizes, so that their numbers stand apart."""
    needed = np.array([CHARACTER * len(word) for word in edge_words(key)])
    spare = np.full(len(needed) - 1, GAP)
    if key.true_step:
        spare[key.true_step - 1] = TRUE_GAP
    gaps: Floats = np.maximum((needed[:-1] + needed[1:]) / 2 + spare, STEP)
    return gaps


def _surface(knot_x: Floats, knot_fall: Floats, levels: Floats) -> tuple[Floats, Floats]:
    """A close chain of points (x, fall) on the curve through the knots, with one wherever it crosses a level."""
    x = np.union1d(np.linspace(knot_x[0], knot_x[-1], 500), knot_x)
    fall = _smooth(knot_x, knot_fall, x)
    above, below = fall[:-1, None] - levels, fall[1:, None] - levels
    k, level = np.nonzero(above * below < 0)
    share = above[k, level] / (above[k, level] - below[k, level])
    every = np.union1d(x, x[k] + share * (x[k + 1] - x[k]))
    return every, np.interp(every, x, fall)


def _smooth(knot_x: Floats, knot_y: Floats, x: Floats) -> Floats:
    """A smooth curve through the knots that never overshoots them, at x.

    Cubic pieces with the slopes of Fritsch & Butland 1984, doi:10.1137/0905021 (harmonic mean, 0 at turns).
    """
    step = np.diff(knot_x)
    rise = np.diff(knot_y) / step
    product = rise[:-1] * rise[1:]
    weight = (step[:-1] + 2 * step[1:]) / (3 * (step[:-1] + step[1:]))
    mean = weight * rise[1:] + (1 - weight) * rise[:-1]
    inner = np.where(product > 0, product / np.where(product > 0, mean, 1.0), 0.0)
    slope = np.concatenate([[0.0], inner, [0.0]])
    k = np.clip(np.searchsorted(knot_x, x, side="right") - 1, 0, len(step) - 1)
    t = (x - knot_x[k]) / step[k]
    start = knot_y[k] * (1 + 2 * t) + step[k] * slope[k] * t
    end = knot_y[k + 1] * (3 - 2 * t) - step[k] * slope[k + 1] * (1 - t)
    curve: Floats = (1 - t) ** 2 * start + t**2 * end
    return curve


def below_surface(place: Layout, share: float) -> Floats:
    """Points (k, 2) at a share of the sheet's thickness under its surface, square to it.

    The lower rim of a disc rolled along the surface: unlike points pushed along normals it never makes loops.
    """
    radius = share * SHEET * place.size
    length = np.append(0.0, np.cumsum(np.hypot(np.diff(place.x), np.diff(place.y))))
    even = np.linspace(0.0, length[-1], 1000)  # as close on steep metal as on flat
    aside = place.x[:, None] - np.interp(even, length, place.x)
    reach = np.where(np.abs(aside) <= radius, np.sqrt(np.maximum(radius**2 - aside**2, 0.0)), -np.inf)
    deepest = (np.interp(even, length, place.y) + reach).max(axis=1)
    return np.column_stack([place.x, np.maximum(deepest, place.y)])
