"""Lines that enter a damaged place, found on the sound metal around it.

Where a line goes on through the place, metal beyond it lies equally high over the smooth panel at the same distance
across. All directions and even curvatures are tried; the best is turned and bent until one profile fits best.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from ..surface.surface import Floats, Ints, Mask
from .line import Line
from .patch import fit_patch, left_over, plain_patch, sample

_BESIDE = 4  # degree of the smooth panel under the lines
_TURNS, _BENDS = np.deg2rad(np.arange(0, 180, 3)), np.linspace(-0.4, 0.4, 9)  # the bends in 1 / size of the place
_STRIP_EDGES, _STRIP_POINTS = 2.0, 3
_UNLIKE = 0.5  # share of the heights that the far side may leave unforetold
_WORTH_IT = 0.7  # of the error on metal that the fit was not shown: what a line must bring it down to
_MOST, _LEAST_MM = 3, 0.02  # what is foretold within less needs no line
_LEAST_SPAN_MM, _SPAN_EDGES, _MOST_SPANS = 2.0, 0.5, 100  # vertices lie at all distances across: finer than edges
_ENDS_MM, _ENDS_TURNS = 0.3, np.deg2rad(np.arange(0, 360, 5))  # what ends there is no less high


def find_lines(uv: Floats, height_mm: Floats, area_mm2: Floats, edge_mm: float) -> tuple[Line, ...]:
    """Lines that enter and leave a place, the strongest first, at most three; none where none is sure.

    Sound metal around it at ``uv`` (n, 2) mm about its middle, of ``height_mm`` and ``area_mm2`` (n,), scanned at
    ``edge_mm``.
    """
    every = sample(len(uv))
    uv, height, area = uv[every], height_mm[every], area_mm2[every]
    found: tuple[Line, ...] = ()
    foretold = plain_patch(uv, height, area, found, _BESIDE).foretold_mm
    while len(found) < _MOST and foretold > _LEAST_MM:
        beside, _ = fit_patch(uv, height, area, found, _BESIDE)
        line = _strongest(uv, height - beside.height(uv), area, edge_mm)
        if line is None:
            break
        line = _refined(line, uv, height, area, found)
        with_it = plain_patch(uv, height, area, (*found, line), _BESIDE).foretold_mm
        if with_it > _WORTH_IT * foretold:
            break
        found, foretold = (*found, line), with_it
    return found


def _strongest(uv: Floats, over: Floats, area: Floats, edge_mm: float) -> Line | None:
    size = float(np.abs(uv).max())
    lines = [Line(float(turn), float(bend / size)) for turn in _TURNS for bend in _BENDS]
    unlike = [_unforetold(line.across(uv), line.along(uv) > 0, over, area, _STRIP_EDGES * edge_mm) for line in lines]
    best = int(np.argmin(unlike))
    if unlike[best] > _UNLIKE:
        return None
    return lines[best].spanning(uv, max(_SPAN_EDGES * edge_mm, _LEAST_SPAN_MM), _MOST_SPANS)


def _unforetold(across: Floats, side: Mask, over: Floats, area: Floats, strip_mm: float) -> float:
    """Share of the heights ``over`` (n,) that metal on the other ``side``, equally far across, does not foretell."""
    strip = np.floor((across - across.min()) / strip_mm).astype(np.int64)
    mean = _means(2 * strip + side, over, area)
    both = (np.bincount(2 * strip + side, minlength=len(mean)).reshape(-1, 2) >= _STRIP_POINTS).all(axis=1)
    expected = np.where(both[strip], mean[2 * strip + ~side], 0.0)
    return float(area @ (over - expected) ** 2 / max(area @ over**2, 1e-12))


def _means(part: Ints, values: Floats, area: Floats) -> Floats:
    count = 2 * (int(part.max()) // 2 + 1)
    weight = np.bincount(part, area, count)
    means: Floats = np.bincount(part, area * values, count) / np.maximum(weight, 1e-12)
    return means


def _refined(line: Line, uv: Floats, height: Floats, area: Floats, others: tuple[Line, ...]) -> Line:
    """The line turned and bent until one profile along it leaves least over."""
    size = float(np.abs(uv).max())

    def at(way: Floats) -> Line:
        return replace(line, turn=float(way[0]), bend=float(way[1] / size))

    def left(way: Floats) -> float:
        return left_over(uv, height, area, (*others, at(way)), _BESIDE)

    tried = []
    for bend in (line.bend * size, 0.0):  # most are straight, and a search may stay bent beside a straight one
        start = np.array([line.turn, bend])
        steps = {"initial_simplex": start + np.array([[0, 0], [0.03, 0], [0, 0.06]]), "maxiter": 80}
        tried.append(minimize(left, start, method="Nelder-Mead", options={**steps, "xatol": 3e-4, "fatol": 1e-9}))
    return at(min(tried, key=lambda found: float(found.fun)).x)


def find_ends(
    uv: Floats, height_mm: Floats, area_mm2: Floats, edge_mm: float, away_mm: Floats, inside: Floats,
    lines: tuple[Line, ...],
) -> list[Floats]:
    """Where lines enter a place and are not seen to leave it in line, places (2,) mm.

    As `find_lines`, which gave ``lines``; ``away_mm`` (n,) is how far the metal lies from the place, ``inside`` (k, 2)
    the place itself.
    """
    every = sample(len(uv))
    uv, height, area = uv[every], height_mm[every], area_mm2[every]
    beside, _ = fit_patch(uv, height, area, lines, _BESIDE)
    over, far = height - beside.height(uv), (away_mm > 0.5 * away_mm.max())[every]
    ends: list[tuple[float, Floats]] = []
    for turn in _ENDS_TURNS:
        line = Line(float(turn), 0.0)
        across, own = line.across(uv), line.across(inside)
        low, high = own.min() + _STRIP_EDGES * edge_mm, own.max() - _STRIP_EDGES * edge_mm
        here = (line.along(uv) > 0) & (across > low) & (across < high)
        weight = area[here] * over[here] ** 2
        if weight.sum() <= _ENDS_MM**2 * area[here].sum():
            continue
        unlike = _unforetold(across[here], far[here], over[here], area[here], _STRIP_EDGES * edge_mm)
        if unlike < _UNLIKE:
            ends.append((unlike, np.average(uv[here], axis=0, weights=weight)))
    return _apart(ends, 0.5 * float(np.ptp(inside, axis=0).min()))


def _apart(ends: list[tuple[float, Floats]], gap_mm: float) -> list[Floats]:
    """The surest of the ends, and each other that lies farther than ``gap_mm`` from those before it."""
    kept: list[Floats] = []
    for _, place in sorted(ends, key=lambda end: end[0]):
        if all(np.linalg.norm(place - other) > gap_mm for other in kept):
            kept.append(place)
    return kept
