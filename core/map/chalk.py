"""Strokes as if a hand had chalked them on metal: uneven, a little broken, rings that overlap where they close.

Needs numpy only. Everything is drawn from seeded noise, so that one plan always looks the same.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..legend.legend import CHALK as TRUE
from .letters import written
from .note_place import clear_place

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]

CHALK, SMUDGE = (250, 249, 244), (88, 86, 84)  # on metal, on a smudge that sets it off
CHARCOAL, HALO_ON_MAP = (50, 47, 46), TRUE  # on the map, where white would be lost on the colour of true metal
STROKE = 0.13  # width of a stroke, in letter heights
HALO = 1.9  # width of the ground that sets a stroke off from what is under it, in stroke widths
LIFT, HALO_LIFT = 0.5, 0.2  # how far over the surface, in stroke widths
_HAIRS = ((0.0, 0.62, 0.02), (-0.34, 0.42, 0.14), (0.34, 0.42, 0.14))  # aside, width, share of gaps
_SHORT = 4.0  # a shorter stroke has no gaps: a full stop must not be lost; in stroke widths
_STEP = 0.35  # from point to point, in stroke widths
_SWING = 0.022  # how far a hand strays, in letter heights
_WAVES = (0.9, 1.7, 4.3)  # over what lengths it strays, in letter heights
_HEIGHT = 1 / 36  # of chalk letters, in diagonals of the panel
_LEAST_MM, _MOST_MM = 4.0, 40.0
_NOTHING = np.empty((0, 2))
_OVERLAP, _RING_STEP, _RING_SMOOTH = 1.2, 0.12, 0.6  # of a ring, in letter heights


@dataclass(frozen=True, eq=False)
class Stroke:
    """A flat band through points (k, 3), ``width`` (k,) at each, that lies across the unit vectors ``aside`` (k, 3)."""

    points: Floats
    width: Floats
    aside: Floats
    halo: bool = False


def chalk_height_mm(diagonal_mm: float) -> float:
    """Height of chalk letters that suits a panel's size, mm.

    >>> chalk_height_mm(800.0), chalk_height_mm(0.0)
    (22.22222222222222, 4.0)
    """
    return float(np.clip(_HEIGHT * diagonal_mm, _LEAST_MM, _MOST_MM))


def note_strokes(words: str, height: float, rng: np.random.Generator, taken: Floats = _NOTHING) -> list[Floats]:
    """A cross at (0, 0) and ``words`` to its right, as strokes (k, 2) of a hand, in the unit of ``height``; elsewhere
    beside it where they would cover points of other chalk, ``taken`` (k, 2).

    >>> len(note_strokes("1", 10.0, np.random.default_rng(0)))
    3
    """
    arm, (strokes, width) = 0.35 * height, written(words)
    cross = [np.array([[-arm, -arm], [arm, arm]]), np.array([[-arm, arm], [arm, -arm]])]
    corner = clear_place(width * height, height, taken)
    both = [*cross, *(stroke * height + corner for stroke in strokes)]
    return [strayed(evenly(stroke, 0.2 * height), height, rng) for stroke in both]


def strayed(points: Floats, height: float, rng: np.random.Generator) -> Floats:
    """Points (k, d) of a stroke moved as a hand strays from it, for letters of ``height`` in the same unit.

    >>> strayed(np.zeros((0, 2)), 10.0, np.random.default_rng(0)).shape
    (0, 2)
    """
    way = _along(points)
    moved = points.copy()
    for length in _WAVES:
        for axis in range(points.shape[1]):
            turn = 2 * np.pi * (way / (length * height) + rng.random())
            moved[:, axis] += _SWING * height / len(_WAVES) ** 0.5 * rng.normal() * np.sin(turn)
    return moved


def chalked(points: Floats, normals: Floats, height: float, rng: np.random.Generator) -> list[Stroke]:
    """The stroke through ``points`` (k, 3) on a surface with ``normals`` (k, 3) as chalk leaves it, lifted off it.

    Nothing is drawn of fewer than two points.

    >>> line = np.array([[0.0, 0, 0], [30.0, 0, 0]])
    >>> strokes = chalked(line, np.array([[0.0, 0, 1]] * 2), 10.0, np.random.default_rng(0))
    >>> len(strokes) >= 3, bool(round(min(s.points[:, 2].min() for s in strokes), 3) >= 0.2)
    (True, True)
    >>> chalked(line[:1], line[:1], 10.0, np.random.default_rng(0))
    []
    """
    if len(points) < 2:
        return []
    width = STROKE * height
    points, normals = evenly_with(points, normals, _STEP * width)
    tangent = np.gradient(points, axis=0)
    aside = np.cross(normals, tangent)
    aside /= np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-12)
    halo = np.full(len(points), HALO * width)
    found = [Stroke(points + HALO_LIFT * width * normals, halo, aside, halo=True)]
    short = len(points) * _STEP < _SHORT
    for place, share, gaps in _HAIRS:
        rough = _soft(rng.normal(size=(2, len(points))), 2)
        at = points + aside * (width * (place + 0.1 * rough[0]))[:, None] + LIFT * width * normals
        wide = share * width * np.clip(1 + 0.3 * rough[1], 0.35, 1.6)
        there = (_soft(rng.normal(size=len(points)), 3) > _quantile(gaps)) | short
        found += [Stroke(at[a:b], wide[a:b], aside[a:b]) for a, b in runs(there) if b - a >= 2]
    return found


def bands(strokes: list[Stroke], halo: bool) -> tuple[Floats, Ints]:
    """The strokes, or their halos, as one mesh: vertices (n, 3), two a point, and triangles (m, 3), their outside away
    from the surface.

    >>> stroke = Stroke(np.array([[0.0, 0, 0], [4.0, 0, 0]]), np.ones(2), np.array([[0.0, 1.0, 0]] * 2))
    >>> vertices, triangles = bands([stroke], False)
    >>> vertices[triangles].shape, np.cross(*np.diff(vertices[triangles[0]], axis=0)).tolist()
    ((2, 3, 3), [0.0, -0.0, 4.0])
    >>> bands([stroke], True)[0].shape
    (0, 3)
    """
    strokes = [stroke for stroke in strokes if stroke.halo == halo]
    if not strokes:
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    points = np.concatenate([stroke.points for stroke in strokes])
    half = np.concatenate([stroke.aside * stroke.width[:, None] for stroke in strokes]) / 2
    vertices = np.stack([points - half, points + half], axis=1).reshape(-1, 3)
    last = np.cumsum([len(stroke.points) for stroke in strokes]) - 1
    row = 2 * np.setdiff1d(np.arange(len(points)), last)[:, None]
    triangles: Ints = np.concatenate([row + [0, 2, 1], row + [1, 2, 3]])
    return vertices, triangles


def ring(outline: Floats, normals: Floats, height: float, rng: np.random.Generator) -> Floats:
    """A hand's ring around a closed ``outline`` (k, 3) that has its area on the left: smooth, a little outside, its end
    past its beginning; (j, 3).

    ``normals`` (k, 3) of the surface there; ``height`` of the letters beside it.
    """
    closed = np.vstack([outline, outline[:1]]), np.vstack([normals, normals[:1]])
    even, out = (values[:-1] for values in evenly_with(*closed, _RING_STEP * height))
    reach = max(1, min(round(_RING_SMOOTH / _RING_STEP), len(even) // 6))
    even = _soft_ring(even, reach)
    tangent = np.roll(even, -1, axis=0) - np.roll(even, 1, axis=0)
    aside = np.cross(tangent, out)
    aside = _soft_ring(aside / np.maximum(np.linalg.norm(aside, axis=1, keepdims=True), 1e-12), reach)
    start = int(rng.integers(len(even)))
    length = len(even) + min(len(even) // 4, round(_OVERLAP / _RING_STEP))
    rows = (start + np.arange(length)) % len(even)
    share = np.linspace(0.3, 0.55, length)[:, None]  # the end runs a little outside the beginning
    return strayed(even[rows] + share * height * aside[rows], 2.5 * height, rng)


def evenly(points: Floats, step: float) -> Floats:
    """Points (j, d) along the line through ``points`` (k, d), at even distances of at most ``step``.

    >>> evenly(np.array([[0.0, 0.0], [3.0, 4.0]]), 2.0)[1].round(3).tolist()
    [1.0, 1.333]
    """
    return evenly_with(points, points[:, :0], step)[0]


def evenly_with(points: Floats, carried: Floats, step: float) -> tuple[Floats, Floats]:
    """As `evenly`, and what each point of the line carries (k, c), as (j, c)."""
    way = _along(points)
    at = np.linspace(0, way[-1], max(2, int(np.ceil(way[-1] / step)) + 1))
    both = np.concatenate([points, carried], axis=1)
    moved = np.stack([np.interp(at, way, column) for column in both.T], axis=1)
    return moved[:, : points.shape[1]], moved[:, points.shape[1] :]


def runs(there: Mask) -> list[tuple[int, int]]:
    """Start and end of each run of True.

    >>> runs(np.array([True, True, False, True]))
    [(0, 2), (3, 4)]
    """
    change = np.flatnonzero(np.diff(np.concatenate([[False], there, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(change[::2], change[1::2], strict=True)]


def _along(points: Floats) -> Floats:
    """Length of the line up to each of its points, (k,)."""
    way: Floats = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    return way[: len(points)]


def _soft(values: Floats, reach: int) -> Floats:
    """Values (..., k) averaged over ``reach`` neighbours on each side, of variance 1 again where they had it."""
    size = 2 * reach + 1
    padded = np.concatenate([values[..., :1]] * reach + [values] + [values[..., -1:]] * reach, axis=-1)
    total = np.cumsum(np.concatenate([np.zeros((*values.shape[:-1], 1)), padded], axis=-1), axis=-1)
    mean: Floats = (total[..., size:] - total[..., :-size]) / size**0.5
    return mean


def _soft_ring(values: Floats, reach: int) -> Floats:
    """Rows of a ring averaged with their neighbours, three times over: near to a Gaussian."""
    for _ in range(3):
        total: Floats = np.zeros_like(values)
        for k in range(-reach, reach + 1):
            total = total + np.roll(values, k, axis=0)
        values = total / (2 * reach + 1)
    return values


def _quantile(share: float) -> float:
    """Below what a standard normal number falls with this chance; to a hundredth, for shares from 0.01 to 0.5.

    Source: Abramowitz & Stegun 1964, formula 26.2.22.
    """
    t = float(np.sqrt(-2.0 * np.log(share)))
    return -(t - (2.30753 + 0.27061 * t) / (1.0 + 0.99229 * t + 0.04481 * t * t))
