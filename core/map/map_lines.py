"""What is drawn on a plan's map beside the colours: contours with numbers, ends of passes, hatch and dots."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress

import numpy as np

from ..bench.lay_up import LayUp
from ..legend.legend import SLIVER, Legend, number_words, relative_luminance
from ..planning.plan import Plan
from ..surface.surface import Floats, Mask, Surface
from .contours import Contour, contours
from .drawn import CONTOURS, DOTS, DOTS_FAR, HATCHED, PALE, DrawnLine
from .letters import written
from .line_numbers import Spot, broken, spots
from .skin import Skin, frame, up_of

_HEIGHT = 1 / 80  # of a contour's number, in diagonals of the panel
_LEAST_MM, _MOST_MM = 2.0, 14.0
_LINE, _PASS, _NUMBER = 0.09, 0.18, 0.12  # widths of lines, in numbers' heights
_HATCH_APART, _HATCH, _DOTS_APART, _DOT = 0.75, 0.16, 0.9, 0.26
DOTS_COARSER = 4.0  # seen from far: fewer and larger ones, else they shimmer
_MOST_PASSES = 12
_OVER_EDGE = 0.15  # of a number's height that may lie beside the metal under it: it leans on a slope
_LIFT = 0.4  # off the surface, in a line's width
_SHORT = 3.0  # a line shorter than this, in numbers' heights, is noise's


@dataclass(frozen=True)
class _Level:
    """One level of depth, mm: whether one pass more is laid from there on, and whether pale reads better than ink on
    its two steps."""

    depth_mm: float
    ends_pass: bool
    pale: bool


def height_mm(panel: Surface) -> float:
    """Height of the numbers on contour lines that suits the panel's size, mm."""
    return float(np.clip(_HEIGHT * panel.diagonal, _LEAST_MM, _MOST_MM))


def map_lines(plan: Plan, key: Legend) -> list[DrawnLine]:
    """All lines on the map of ``plan``, in mm about the panel's origin, lying on the panel's surface."""
    panel, found = plan.panel.surface, plan.survey
    judged = found.planned & found.depth.judged
    steady, height = found.steady.depth_mm, height_mm(panel)
    levels = {level.depth_mm: level for level in _levels(steady[judged], key, plan.lay_up)}
    lines = contours(panel, steady, judged, np.array(sorted(levels)))
    lines = tuple(line for line in lines if _length(line) > _SHORT * height)
    drawn = _with_numbers(panel, lines, levels, key.unit, height)
    if key.greatest_mm is not None:
        drawn += _hatch(panel, judged & (steady > key.greatest_mm), height)
    unknown = found.planned & ~judged
    return drawn + _dots(panel, unknown, height, DOTS) + _dots(panel, unknown, DOTS_COARSER * height, DOTS_FAR)


def dot_mm(panel: Surface) -> float:
    """Width of a dot that stands for what is not measured, seen from near by, mm."""
    return _DOT * height_mm(panel)


def _levels(steady_mm: Floats, key: Legend, lay_up: LayUp) -> list[_Level]:
    """The steps' edges and the depths from which on one pass more is laid, overbuild and all."""
    ends = lay_up.ends_mm(float(steady_mm.max(initial=0.0)))[:_MOST_PASSES]
    edges = key.edges_mm
    levels = []
    for depth in np.union1d(edges, ends):
        apart = np.maximum(ends / depth, depth / ends) if depth > 0 else np.empty(0)
        ends_pass = bool((apart < 1 + 1e-9).any())
        if not ends_pass and (apart < SLIVER).any() and depth != key.greatest_mm:
            continue  # too close to a pass's end to be told from it
        row = int(np.searchsorted(edges, depth))
        sides = {row, row + 1} if row < len(edges) and edges[row] == depth else {row}
        light = [relative_luminance(key.steps[side].colour) for side in sides]
        pale = min(1.05 / (v + 0.05) for v in light) > min((v + 0.05) / 0.07 for v in light)
        levels.append(_Level(float(depth), ends_pass, bool(pale)))
    return levels


def _with_numbers(
    panel: Surface, lines: tuple[Contour, ...], levels: dict[float, _Level], unit: str, height: float
) -> list[DrawnLine]:
    up = up_of(panel.area_vectors)
    right = np.cross(up, panel.area_vectors.sum(axis=0))
    right /= max(float(np.linalg.norm(right)), 1e-12)
    words = [written(_number_words(levels[line.level_mm], unit)) for line in lines]
    whole = [np.vstack([line.points, line.points[:1]]) if line.closed else line.points for line in lines]
    taken = spots(whole, [width * height for _, width in words], height, right)
    places = np.array([spot.place for spot in taken]).reshape(-1, 3)
    skin = Skin(panel, np.concatenate([places, *whole]), 2 * height)
    _, normals, _ = skin.laid(places)
    ups = np.cross(normals, np.array([spot.along for spot in taken]).reshape(-1, 3))
    whole_numbers = [_on_metal(skin, *each) for each in zip(taken, ups, strict=True)]
    taken, ups = tuple(compress(taken, whole_numbers)), ups[np.array(whole_numbers, dtype=bool)]
    drawn = []
    for line, points in zip(lines, whole, strict=True):
        level = levels[line.level_mm]
        width = height * (_PASS if level.ends_pass else _LINE)
        parts = broken(points, taken, ups)
        closed = line.closed and len(parts) == 1 and parts[0] is points
        drawn += [_on(skin, part[:-1] if closed else part, width, _layer(level), closed) for part in parts]
    for spot, aloft in zip(taken, ups, strict=True):
        level = levels[lines[spot.line].level_mm]
        drawn += _number(skin, spot, aloft, words[spot.line][0], _layer(level))
    return drawn


def _on_metal(skin: Skin, spot: Spot, up: Floats) -> bool:
    """Whether all of a number has metal under it: none of it hangs over an edge or a hole."""
    u, v = (g.ravel()[:, None] for g in np.meshgrid(np.linspace(-0.5, 0.5, 9), np.linspace(-0.5, 0.5, 5)))
    box = spot.place + u * spot.width * spot.along + v * spot.height * up
    at, _, _ = skin.laid(box)
    away = box - at
    aside = np.abs(away @ spot.along).max(initial=0.0) + np.abs(away @ up).max(initial=0.0)
    return bool(aside < _OVER_EDGE * spot.height)


def _number_words(level: _Level, unit: str) -> str:
    """A step's edge as in the legend; where a pass ends, which is seldom a round figure, to a tenth of a millimetre."""
    depth = abs(level.depth_mm)
    return number_words(round(depth, 1) if level.ends_pass and unit == "mm" else depth, unit)


def _on(skin: Skin, points: Floats, width: float, layer: str, closed: bool = False) -> DrawnLine:
    """A line lying on the surface, so that most of it shows."""
    on, normals, _ = skin.laid(points)
    return DrawnLine(layer, on + _LIFT * width * normals, width, closed)


def _layer(level: _Level) -> str:
    return PALE if level.pale else CONTOURS


def _number(skin: Skin, spot: Spot, up: Floats, strokes: tuple[Floats, ...], layer: str) -> list[DrawnLine]:
    drawn = []
    for stroke in strokes:
        x, y = stroke[:, :1] * spot.height - spot.width / 2, (stroke[:, 1:] - 0.5) * spot.height
        drawn.append(_on(skin, spot.place + x * spot.along + y * up, _NUMBER * spot.height, layer))
    return drawn


def _hatch(panel: Surface, deep: Mask, height: float) -> list[DrawnLine]:
    """Slanting lines over the triangles whose corners are all ``deep`` (n,): where evenly spaced planes cut them."""
    if not deep.any():
        return []
    normal = panel.area_vectors.sum(axis=0)[None]
    right, up = frame(normal / max(float(np.linalg.norm(normal)), 1e-12), up_of(panel.area_vectors))
    across = panel.vertices @ ((right - up)[0] / np.sqrt(2.0))
    apart = _HATCH_APART * height
    low, high = across[deep].min(), across[deep].max()
    planes = (np.arange(np.ceil(low / apart), np.floor(high / apart) + 1) + 0.37) * apart
    lines = contours(panel, across, deep, planes)
    skin = Skin(panel, panel.vertices[deep], 2 * height)
    return [_on(skin, line.points, _HATCH * height, HATCHED) for line in lines]


def _dots(panel: Surface, unjudged: Mask, height: float, layer: str) -> list[DrawnLine]:
    """One dot in each cube of an even lattice that holds a point of ``unjudged`` (n,): at the point next its middle."""
    rows = np.flatnonzero(unjudged)
    apart = _DOTS_APART * height
    scaled = panel.vertices[rows] / apart
    cell = np.floor(scaled).astype(np.int64)
    off = np.linalg.norm(scaled - cell - 0.5, axis=1)
    order = np.argsort(off, kind="stable")
    _, first = np.unique(cell[order], axis=0, return_index=True)
    chosen = rows[order[first]]
    stub = _DOT * height / 2
    return [
        DrawnLine(layer, np.stack([panel.vertices[k] - stub * panel.vertex_normals[k],
                                  panel.vertices[k] + stub * panel.vertex_normals[k]]), _DOT * height)
        for k in chosen
    ]


def _length(line: Contour) -> float:
    points = np.vstack([line.points, line.points[:1]]) if line.closed else line.points
    return float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
