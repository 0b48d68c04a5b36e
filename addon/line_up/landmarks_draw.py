"""The matching points and what to click next, drawn over the view: crosses and numbers as if chalked, alike on both."""

from __future__ import annotations

from typing import Any

import blf
import bpy
import gpu
import numpy as np
from bpy_extras import view3d_utils
from gpu_extras.batch import batch_for_shader
from mathutils import Vector

from ...core.map.letters import written

_ARM, _NUMBER, _TITLE = 7.0, 17.0, 15.0  # of a cross, a number's height, a title's size; pixels at a scale of 1
_STROKE, _GROUND = 2.6, 6.0  # widths of a stroke of chalk and of what sets it off
_CHALK, _INK, _WAITING = (0.96, 0.95, 0.92, 1.0), (0.10, 0.12, 0.14, 1.0), (0.93, 0.74, 0.33, 1.0)
_FONT = 0


def draw_marks(region: bpy.types.Region, shown: Any) -> None:
    """Called by the view: numbers at the points, and over each mesh its name."""
    if bpy.context.region != region:
        return
    scene = bpy.context.scene
    pairs = scene.fillwright.shaping.pairs
    waiting = len(pairs) > 0 and pairs[-1].target is None
    scale = bpy.context.preferences.system.ui_scale
    for number, pair in enumerate(pairs, start=1):
        for obj, point in ((pair.panel, pair.panel_point), (pair.target, pair.target_point)):
            place = _place(region, obj.matrix_world @ Vector(point)) if obj is not None else None
            if place is not None:
                _mark(place, str(number), _WAITING if pair.target is None else _CHALK, scale)
    next_one = len(pairs) if waiting else len(pairs) + 1
    for names, title, asked in ((shown.panel, "Panel", not waiting), (shown.target, "Finished Shape", waiting)):
        place = _above(region, [scene.objects[name] for name in names if name in scene.objects])
        if place is not None:
            _title(place, f"{title}: click point {next_one}" if asked else title, asked, region, scale)


def _place(region: bpy.types.Region, point: Vector) -> Vector | None:
    return view3d_utils.location_3d_to_region_2d(region, bpy.context.space_data.region_3d, point)


def _above(region: bpy.types.Region, objects: list[bpy.types.Object]) -> Vector | None:
    """The middle over objects, as seen."""
    seen = [_place(region, obj.matrix_world @ Vector(corner)) for obj in objects for corner in obj.bound_box]
    found = [place for place in seen if place is not None]
    if not found:
        return None
    across = [place.x for place in found]
    return Vector((0.5 * (min(across) + max(across)), max(place.y for place in found)))


def _mark(place: Vector, number: str, colour: tuple[float, ...], scale: float) -> None:
    """A cross on the point and its number beside it, as if chalked on the metal: pale strokes on a dark ground."""
    arm = _ARM * scale
    strokes = [[(-arm, -arm), (arm, arm)], [(-arm, arm), (arm, -arm)]]
    letters, _ = written(number)
    size, corner = _NUMBER * scale, np.array([1.5 * _ARM, -0.2 * _NUMBER]) * scale
    strokes += [(size * one + corner).tolist() for one in letters]
    for width, paint in ((_GROUND * scale, _INK), (_STROKE * scale, colour)):
        for stroke in strokes:
            _line([place + Vector(point) for point in stroke], width, paint)


def _line(points: list[Vector], width: float, colour: tuple[float, ...]) -> None:
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINE_STRIP", {"pos": [(*point, 0.0) for point in points]})
    gpu.state.blend_set("ALPHA")
    shader.bind()
    shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
    shader.uniform_float("lineWidth", width)
    shader.uniform_float("color", colour)
    batch.draw(shader)
    gpu.state.blend_set("NONE")


def _fan(points: list[Vector], colour: tuple[float, ...]) -> None:
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    triangles = [(0, k, k + 1) for k in range(1, len(points) - 1)]
    batch = batch_for_shader(shader, "TRIS", {"pos": [(*point, 0.0) for point in points]}, indices=triangles)
    shader.bind()
    shader.uniform_float("color", colour)
    batch.draw(shader)


def _text(middle: Vector, text: str, size: float, colour: tuple[float, ...]) -> None:
    blf.size(_FONT, size)
    blf.color(_FONT, *colour)
    width, height = blf.dimensions(_FONT, text)
    blf.position(_FONT, middle.x - width / 2, middle.y - height / 2, 0.0)
    blf.draw(_FONT, text)


def _title(place: Vector, text: str, asked: bool, region: bpy.types.Region, scale: float) -> None:
    """A mesh's name over it, on a dark band when its point is wanted."""
    size = _TITLE * scale
    blf.size(_FONT, size)
    width, _ = blf.dimensions(_FONT, text)
    room = 0.5 * width + size
    middle = Vector((min(max(place.x, room), region.width - room),
                     min(place.y + 3.2 * size, region.height - 4.5 * size)))
    gpu.state.blend_set("ALPHA")
    band = [Vector((sx * room, sy * 0.95 * size)) + middle for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    _fan(band, (*_INK[:3], 0.9 if asked else 0.45))
    _text(middle, text, size, _CHALK if asked else (*_CHALK[:3], 0.7))
    gpu.state.blend_set("NONE")
