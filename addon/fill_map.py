"""Fill Map: the planned panel in its colours, with contour lines and the legend; and everything given back."""

from __future__ import annotations

import json
import traceback
from typing import Any

import bpy
from bpy.app.handlers import persistent

from ..core.paper.legend import Legend, legend
from . import chalk, contour_object, fill_object, ids, legend_draw, map_kept, shading
from .choices import preferences, shop_unit
from .state import carriers

_LINES = (ids.CONTOURS, ids.CONTOURS_PALE, ids.HATCH, ids.DOTS)


def planned(scene: bpy.types.Scene, arrays: dict[str, Any], holders: list[bpy.types.Object]) -> None:
    """A plan's answer has come: make what is drawn of it, and show the map."""
    panel = holders[0] if holders else None
    contour_object.put(scene, arrays, panel)
    chalk.put(scene, arrays, panel)
    fill_object.put(scene, arrays, panel)
    set_map(scene, True)


def set_map(scene: bpy.types.Scene, shown: bool) -> None:
    """Show the map or give everything back as the user had it. Does no harm twice."""
    own = scene.fillwright
    if shown:
        map_kept.take(scene, own)
    else:
        map_kept.give_back(scene, own)
    own.show_map = shown
    for name in _LINES:
        obj = contour_object.find(scene, name)
        if obj is not None:
            contour_object.show(obj, shown and (name != ids.HATCH or with_hatch()))
    fill = contour_object.find(scene, ids.FILL)
    if fill is not None and shown:
        contour_object.show(fill, False)  # it lies over the map
    for obj in carriers(scene):
        if obj.get(ids.RESULT):
            contour_object.show(obj, shown)
    shading.follow_scenes()


def key_of(scene: bpy.types.Scene) -> tuple[Legend, float]:
    """The legend of the scene's plan, and a pass of its material, mm."""
    record = json.loads(scene.fillwright.record)
    material = record["material"]
    unit = record.get("shop_unit", shop_unit(scene))
    return legend(record["settings"]["true_mm"], material["greatest_depth_mm"], unit), material["pass_mm"]


def with_hatch() -> bool:
    """Whether the user wants a hatch over what is too deep."""
    own = preferences()
    return own is None or bool(own.hatch)


class FILLWRIGHT_OT_fill_map(bpy.types.Operator):
    bl_idname = ids.FILL_MAP
    bl_label = "Fill Map"
    bl_description = "Show the panel in the colours of its depth with contour lines, or give back your own shading"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not context.scene.fillwright.record:
            cls.poll_message_set("Plan the fill first")
            return False
        if not carriers(context.scene):
            cls.poll_message_set("The planned panel is gone; plan again")
            return False
        if any(obj.mode == "EDIT" for obj in carriers(context.scene)):
            cls.poll_message_set("Leave edit mode first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        set_map(context.scene, not context.scene.fillwright.show_map)
        return {"FINISHED"}


class _Handler:
    """The legend's draw handler, which takes itself out when it fails."""

    handle: Any = None


def _draw_legend() -> None:
    try:
        context = bpy.context
        scene, space = context.scene, context.space_data
        if not (scene.fillwright.show_map and scene.fillwright.record and shading.is_map(space)):
            return
        key, pass_mm = key_of(scene)
        scale = context.preferences.system.ui_scale
        left, bottom, width, height = legend_draw.free_room(context.area, context.region)
        edge = legend_draw.EDGE * scale
        drawing = legend_draw.legend_drawing(key, pass_mm, (width - 2 * edge, height - 2 * edge), scale)
        if drawing is not None:
            legend_draw.draw(drawing, left + edge, bottom + edge, with_hatch())
    except Exception:
        traceback.print_exc()
        _take_out()


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


CLASSES = (FILLWRIGHT_OT_fill_map,)
