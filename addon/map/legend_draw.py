"""The legend in the view: the cut through the panel, drawn from core's plain shapes with gpu and blf."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache, partial
from typing import Any

import blf
import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader
from mathutils import Vector
from mathutils.geometry import tessellate_polygon

from ...core.bench.lay_up import LayUp
from ...core.legend.band import PLAIN, headed, one_line
from ...core.legend.drawing import DOT, HATCH, Colour, Drawing, Line, Polygon, Text
from ...core.legend.legend import Legend
from ...core.legend.legend_card import card_size
from ...core.legend.legend_section import CutWords, legend_section
from ...core.legend.pattern import DOT as DOT_GRAINS
from ...core.legend.pattern import DOTS_APART, GRAINS, STRIPE, STRIPES_APART, dot_places, hatch_lines

TEXT = 13.0  # size of text where there is room, in pixels at a scale of 1 ...
# ... and smaller where there is little, with the share of the view that it may take up each way. In less room it folds
# to a line.
SIZES = ((TEXT, 0.45), (11.0, 0.55), (9.0, 0.65), (9.0, 1.0))
EDGE = 16.0  # from the view's edge
_VEIL = 0.55  # how much of the background comes over a map that is out of date
_FONT = 0


def draw(drawing: Drawing, x: float, y: float, patterns: bool = True) -> None:
    """Draw shapes whose lower left corner lies at (x, y) pixels, a unit of theirs being a pixel.

    ``patterns``: with the hatch; dots are always drawn. Draws into whatever is bound, and knows of no view.
    """
    gpu.state.blend_set("ALPHA")
    place = np.array([x, y + drawing.height])
    grain = min(drawing.width, drawing.height) / GRAINS
    for shape in drawing.shapes:
        if isinstance(shape, Polygon):
            _polygon(shape, place, grain, patterns)
        elif isinstance(shape, Line):
            _lines([shape.points * [1, -1] + place], shape.colour, shape.width)
        else:
            _text(shape, place)
    gpu.state.blend_set("NONE")


def legend_drawing(
    key: Legend, lay_up: LayUp, room: tuple[float, float], scale: float, over: tuple[str, ...] = ()
) -> Drawing | None:
    """The plan's legend in a size for a view with ``room`` in pixels and an interface ``scale``, under a band for each
    of the words that must stand ``over`` it; one line where no legend fits, and None where not even that does."""
    return _fitting(partial(_cut, key, lay_up, None, ""), "Fill Map", over, room, scale)


def map_drawing(
    key: Legend, title: str, words: CutWords, room: tuple[float, float], scale: float, over: tuple[str, ...] = ()
) -> Drawing | None:
    """Another map's legend, as `legend_drawing`, with its ``title`` and its own ``words``."""
    return _fitting(partial(_cut, key, None, words, title), title, over, room, scale)


def _fitting(
    cut: Callable[[tuple[str, ...], float], Drawing], title: str, over: tuple[str, ...], room: tuple[float, float],
    scale: float,
) -> Drawing | None:
    tries = [(partial(cut, over), text, share) for text, share in SIZES]
    told = ". ".join((title, *over))
    tries += [(partial(one_line, words), 11.0, 1.0) for words in (f"{told}. Legend: widen the view", told)]
    for make, text, share in tries:
        drawing = make(text * scale)
        if drawing.width <= share * room[0] and drawing.height <= share * room[1]:
            return drawing
    return None


@lru_cache(maxsize=16)
def _cut(
    key: Legend, lay_up: LayUp | None, words: CutWords | None, title: str, over: tuple[str, ...], text: float
) -> Drawing:
    width, height = (float(np.ceil(v)) for v in card_size(key, text))
    drawing = legend_section(key, width, height, lay_up, text, words)
    if title:
        drawing = headed(drawing, title, text, PLAIN)
    for warning in over:
        drawing = headed(drawing, warning, text)
    return drawing


def veil(region: bpy.types.Region) -> None:
    """Dim a whole view: half of what is drawn there so far gives way to the theme's own background."""
    ground = bpy.context.preferences.themes[0].view_3d.space.gradients.high_gradient
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    corners = [(0, 0), (region.width, 0), (region.width, region.height), (0, region.height)]
    batch = batch_for_shader(shader, "TRIS", {"pos": corners}, indices=[(0, 1, 2), (0, 2, 3)])
    gpu.state.blend_set("ALPHA")
    shader.uniform_float("color", (*ground, _VEIL))
    batch.draw(shader)
    gpu.state.blend_set("NONE")


def _polygon(shape: Polygon, place: Any, grain: float, patterns: bool) -> None:
    points = [Vector((*point, 0.0)) for point in (shape.points * [1, -1] + place).tolist()]
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    batch = batch_for_shader(shader, "TRIS", {"pos": points}, indices=tessellate_polygon([points]))
    shader.uniform_float("color", _rgba(shape.fill))
    batch.draw(shader)
    if shape.hatch and patterns:
        segments = hatch_lines(shape.points, STRIPES_APART * grain) * [1, -1] + place
        _lines(list(segments), HATCH, max(1.0, STRIPE * grain))
    if shape.dots:
        _dots(dot_places(shape.points, DOTS_APART * grain * 2) * [1, -1] + place, max(1.0, DOT_GRAINS * grain * 2))


def _lines(lines: list[Any], colour: Colour, width: float) -> None:
    if not lines:
        return
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    starts = np.cumsum([0, *(len(line) for line in lines)])
    pairs = [(k, k + 1) for a, b in zip(starts[:-1], starts[1:], strict=True) for k in range(a, b - 1)]
    points = [(*point, 0.0) for point in np.concatenate(lines).tolist()]
    batch = batch_for_shader(shader, "LINES", {"pos": points}, indices=pairs)
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", max(1.0, width))
    shader.uniform_float("color", _rgba(colour))
    batch.draw(shader)


def _dots(middles: Any, radius: float) -> None:
    if not len(middles):
        return
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, -1), (1, 1), (-1, 1)]) * radius * 0.8
    points = (middles[:, None] + corners).reshape(-1, 2).tolist()
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    batch = batch_for_shader(shader, "TRIS", {"pos": points})
    shader.uniform_float("color", _rgba(DOT))
    batch.draw(shader)


def _text(shape: Text, place: Any) -> None:
    blf.size(_FONT, shape.size)
    width, _ = blf.dimensions(_FONT, shape.text)
    left = shape.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[shape.anchor] * width
    blf.color(_FONT, *_rgba(shape.colour))
    blf.position(_FONT, round(place[0] + left), round(place[1] - shape.y), 0.0)
    blf.draw(_FONT, shape.text)


def _rgba(colour: Colour) -> tuple[float, float, float, float]:
    return (colour[0] / 255, colour[1] / 255, colour[2] / 255, 1.0)
