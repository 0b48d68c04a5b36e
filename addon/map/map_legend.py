"""The legend of the map that is shown, drawn over the views that show it."""

from __future__ import annotations

import json
import traceback
from functools import lru_cache
from typing import Any

import bpy
from bpy.app.handlers import persistent
from mathutils import Vector

from ...core.legend.band import BEHIND, OUT_OF_DATE
from ...core.legend.drawing import Drawing
from ...core.map.map_keys import TITLES, map_key, map_words
from ..blender.free_room import free_room
from ..names import ids
from ..names.choices import with_hatch
from ..scene.framing import from_behind
from . import legend_draw, maps, on_panel, shading
from .fill_map import key_of


class _Handler:
    """The legend's draw handler, which takes itself out when it fails."""

    handle: Any = None


def _draw_legend() -> None:
    try:
        context = bpy.context
        scene, space = context.scene, context.space_data
        if not (scene.fillwright.show_map and shading.is_map(space)):
            return
        if is_out_of_date(scene.fillwright):
            legend_draw.veil(context.region)
        scale = context.preferences.system.ui_scale
        left, bottom, width, height = free_room(context.area, context.region)
        edge = legend_draw.EDGE * scale
        drawing = drawing_of(scene, (width - 2 * edge, height - 2 * edge), scale, said_over(scene, space))
        if drawing is not None:
            # at the right: on the left Blender puts its own box for what was done last
            legend_draw.draw(drawing, left + width - edge - drawing.width, bottom + edge, with_hatch())
    except Exception:
        traceback.print_exc()
        _take_out()


def said_over(scene: bpy.types.Scene, space: bpy.types.SpaceView3D) -> tuple[str, ...]:
    """What must be said over the legend in a view."""
    said = (OUT_OF_DATE,) if is_out_of_date(scene.fillwright) else ()
    return (*said, BEHIND) if _is_behind(scene, space) else said


def _is_behind(scene: bpy.types.Scene, space: bpy.types.SpaceView3D) -> bool:
    """Whether the planned panel is seen from its inside. The contours move with it, and were in the world at first."""
    record, lines = scene.fillwright.record, on_panel.find(scene, ids.CONTOURS)
    outward = outward_of(record) if record else None
    if outward is None or lines is None or lines.parent is None:
        return False
    panel = lines.parent
    middle = panel.matrix_world @ (sum((Vector(corner) for corner in panel.bound_box), Vector()) / 8)
    return from_behind(space, middle, lines.matrix_world.to_3x3() @ Vector(outward))


@lru_cache(maxsize=4)
def outward_of(record: str) -> tuple[float, ...] | None:
    """Where the panel's outside looked to when it was planned; None where it has no such side, or an old file says
    nothing of it."""
    outward = json.loads(record)["panel"].get("outward")
    return None if outward is None else tuple(outward)


def drawing_of(
    scene: bpy.types.Scene, room: tuple[float, float], scale: float, over: tuple[str, ...] = ()
) -> Drawing | None:
    """The legend of the map that is shown under the words ``over`` it, in a size for the ``room``; None where there is
    none or it doesn't fit."""
    own = scene.fillwright
    if own.map_kind == maps.FILL:
        return legend_draw.legend_drawing(*key_of(scene), room, scale, over) if own.record else None
    entry = own.maps.get(own.map_kind)
    if entry is None:
        return None
    key = map_key(own.map_kind, round(entry.true_mm, 6), entry.unit)  # kept in single precision
    return legend_draw.map_drawing(key, TITLES[own.map_kind], map_words(own.map_kind), room, scale, over)


def is_out_of_date(own: Any) -> bool:
    """Whether what is shown is the plan's map, and the plan no longer fits."""
    return bool(own.out_of_date and maps.is_shown(own, maps.FILL))


def _take_out() -> None:
    if _Handler.handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_Handler.handle, "WINDOW")
        _Handler.handle = None


@persistent
def _follow(*_given: Any) -> None:
    shading.follow_scenes()


def register() -> None:
    _Handler.handle = bpy.types.SpaceView3D.draw_handler_add(_draw_legend, (), "WINDOW", "POST_PIXEL")
    for handlers in _events():
        handlers.append(_follow)


def unregister() -> None:
    _take_out()
    for handlers in _events():
        if _follow in handlers:
            handlers.remove(_follow)
    shading.give_back_all()


def _events() -> tuple[list[Any], ...]:
    events = bpy.app.handlers
    return events.undo_post, events.redo_post, events.load_post
