"""Read Depth: move over the panel and read; click to chalk a note; Esc ends."""

from __future__ import annotations

import json
import traceback
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from bpy_extras.view3d_utils import region_2d_to_origin_3d, region_2d_to_vector_3d
from mathutils import Vector
from mathutils.interpolate import poly_3d_calc

from ...core.report.depth_probe import DepthProbe, depth_note, probed
from ..blender.free_room import free_room
from ..names import ids
from ..names.choices import shop_unit
from ..state.scene_state import carriers
from .chalk import chalk_note
from .planned_first import PlannedFirst
from .reading_text import draw_reading


@dataclass(frozen=True)
class Hit:
    """Where a ray meets the planned panel: the object, the place in the world, and what is read there."""

    holder: bpy.types.Object
    place: Any
    read: DepthProbe


def read_along(context: bpy.types.Context, origin: Any, direction: Any, record: dict[str, Any]) -> Hit | None:
    """The reading where a ray (in the world) first meets a planned object; None where it meets none."""
    depsgraph = context.evaluated_depsgraph_get()
    best: tuple[float, Any, Any, int] | None = None
    for obj in carriers(context.scene):
        if obj.name not in context.view_layer.objects or obj.mode == "EDIT":
            continue
        shown = obj.evaluated_get(depsgraph)
        inward = shown.matrix_world.inverted()
        met, at, _, face = shown.ray_cast(inward @ Vector(origin), inward.to_3x3() @ Vector(direction))
        away = (shown.matrix_world @ at - Vector(origin)).length if met else 0.0
        if met and (best is None or away < best[0]):
            best = (away, obj, at, face)
    if best is None:
        return None
    _, obj, at, face = best
    shown = obj.evaluated_get(depsgraph)
    read = _read(context, shown.data, at, face, record)
    return None if read is None else Hit(obj, shown.matrix_world @ at, read)


def _read(
    context: bpy.types.Context, mesh: bpy.types.Mesh, at: Any, face: int, record: dict[str, Any]
) -> DepthProbe | None:
    depth, area = mesh.attributes.get(ids.DEPTH), mesh.attributes.get(ids.AREA)
    if depth is None or area is None:
        return None
    corners = list(mesh.polygons[face].vertices)
    weights = poly_3d_calc([mesh.vertices[k].co for k in corners], at)
    depths, places = [depth.data[k].value for k in corners], [area.data[k].value for k in corners]
    unit = record.get("shop_unit", shop_unit(context.scene))
    return probed(weights, depths, places, record, unit)


class FILLWRIGHT_OT_read_depth(PlannedFirst, bpy.types.Operator):
    bl_idname = ids.READ_DEPTH
    bl_label = "Read Depth"
    bl_description = "Move over the panel and read depth, what to lay and overbuild; click to chalk a note, Esc ends"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        return "" if carriers(context.scene) else "Plan the fill first"

    def execute(self, _context: bpy.types.Context) -> set[str]:
        """In scripts and outside a view there is nothing to move over."""
        self.report({"ERROR"}, "Read Depth works in a 3D view; start it there")
        return {"CANCELLED"}

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if context.area is None or context.area.type != "VIEW_3D":
            return self.execute(context)
        self._record = json.loads(context.scene.fillwright.record)
        self._area = context.area
        self._hit: Hit | None = None
        self._mouse = (0, 0)
        self._handle = bpy.types.SpaceView3D.draw_handler_add(_draw, (self,), "WINDOW", "POST_PIXEL")
        context.window.cursor_modal_set("EYEDROPPER")
        context.workspace.status_text_set("Read Depth: click to chalk a note, Esc ends")
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type in {"ESC", "RIGHTMOUSE"} or not self._area.regions:
            self.cancel(context)
            return {"FINISHED"}
        region = _window_under(self._area, event)
        if event.type in {"MOUSEMOVE", "INBETWEEN_MOUSEMOVE"}:
            self._look(context, region, event)
            return {"RUNNING_MODAL"} if region else {"PASS_THROUGH"}
        if event.type == "LEFTMOUSE" and region is not None:
            if event.value == "PRESS":
                self._look(context, region, event)
                self._note(context, region)
            return {"RUNNING_MODAL"}
        return {"PASS_THROUGH"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Leave everything as it was before."""
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
        context.window.cursor_modal_restore()
        context.workspace.status_text_set(None)
        self._area.tag_redraw()

    def _look(self, context: bpy.types.Context, region: bpy.types.Region | None, event: bpy.types.Event) -> None:
        self._hit = None
        if region is not None:
            self._mouse = (event.mouse_x - region.x, event.mouse_y - region.y)
            view = self._area.spaces.active.region_3d
            origin = region_2d_to_origin_3d(region, view, self._mouse)
            self._hit = read_along(context, origin, region_2d_to_vector_3d(region, view, self._mouse), self._record)
        self._area.tag_redraw()

    def _note(self, context: bpy.types.Context, region: bpy.types.Region) -> None:
        if self._hit is None:
            return
        turn = np.array(self._area.spaces.active.region_3d.view_matrix.to_3x3())
        unit = self._record.get("shop_unit", shop_unit(context.scene))
        words = depth_note(self._hit.read.depth_mm, self._record["settings"]["true_mm"], unit)
        chalk_note(context.scene, self._hit.holder, words, np.array(self._hit.place), turn[0], turn[1])
        bpy.ops.ed.undo_push(message="Chalk a Note")
        self._area.tag_redraw()


def _window_under(area: bpy.types.Area, event: bpy.types.Event) -> bpy.types.Region | None:
    """The view's own region under the mouse, where no toolbar or sidebar lies over it."""
    def under(region: bpy.types.Region) -> bool:
        x, y = event.mouse_x - region.x, event.mouse_y - region.y
        return 0 <= x < region.width and 0 <= y < region.height

    here = [region for region in area.regions if under(region)]
    return here[0] if len(here) == 1 and here[0].type == "WINDOW" else None


def _draw(operator: FILLWRIGHT_OT_read_depth) -> None:
    try:
        if operator._hit is not None and bpy.context.area == operator._area:
            scale = bpy.context.preferences.system.ui_scale
            free = free_room(bpy.context.area, bpy.context.region)
            draw_reading(operator._hit.read, operator._mouse, scale, free)
    except Exception:
        traceback.print_exc()
        bpy.types.SpaceView3D.draw_handler_remove(operator._handle, "WINDOW")
        operator._handle = None


CLASSES = (FILLWRIGHT_OT_read_depth,)
