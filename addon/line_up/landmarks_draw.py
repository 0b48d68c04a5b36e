"""The matching points and what to click next, drawn over the view: chalk discs with numbers, the same on both sides."""

from __future__ import annotations

import math
from typing import Any

import blf
import bpy
import gpu
from bpy_extras import view3d_utils
from gpu_extras.batch import batch_for_shader
from mathutils import Vector

_DISC, _TEXT, _TITLE = 11.0, 13.0, 15.0
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
    """A disc with its number above the point, and a stem to the point itself."""
    radius = _DISC * scale
    middle = place + Vector((0.0, 2.2 * radius))
    gpu.state.blend_set("ALPHA")
    stem = [(-0.35 * radius, -radius * 0.8), (0.35 * radius, -radius * 0.8), (0.0, -2.2 * radius)]
    for grow, paint in ((1.5 * scale, _INK), (0.0, colour)):
        edge = [middle + (radius + grow) * Vector((math.cos(a), math.sin(a))) for a in _TURNS]
        _fan([middle, *edge, edge[0]], paint)
    _fan([middle + Vector(corner) for corner in stem], colour)
    _text(middle, number, _TEXT * scale, _INK)
    gpu.state.blend_set("NONE")


_TURNS = [2 * math.pi * k / 28 for k in range(28)]


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
