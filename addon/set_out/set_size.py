"""Set Size: two points clicked on a scan without true size, and the distance between them as taped."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import FloatProperty, FloatVectorProperty
from bpy_extras import view3d_utils
from mathutils import Vector

from ...core.errors import FillwrightError
from ...core.legend.shop_units import mm_per_unit_from_tape
from ..blender import asking
from ..marks.lasso import draw_line
from ..names import ids
from ..scene.chosen import PANEL, part, source
from ..scene.scene_meshes import SceneError, mm_per_unit
from ..sidebar.pieces import length
from ..state.in_inches import twins

_PASSED = {"MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "TRACKPADPAN", "TRACKPADZOOM"}
_ASKS = ("Click the first point on the panel; Esc ends", "Click the second point, far from the first; Esc ends")


class FILLWRIGHT_OT_set_size(bpy.types.Operator):
    bl_idname = ids.SET_SIZE
    bl_label = "Set Size"
    bl_description = "Click two points on the panel and type the distance between them as taped on the car"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if source(own, PANEL) is None:
            cls.poll_message_set("Choose the panel first")
            return False
        if context.area is None or context.area.type != "VIEW_3D":
            cls.poll_message_set("Start it in a 3D view")
            return False
        return True

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        own = context.scene.fillwright
        try:
            self._panel = {obj.name for obj in part(own, PANEL).objects}
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        self._points: list[Vector] = []
        self._cursor: Vector | None = None
        window = next(region for region in context.area.regions if region.type == "WINDOW")
        self._handle = bpy.types.SpaceView3D.draw_handler_add(self._draw, (window,), "WINDOW", "POST_PIXEL")
        return asking.begin(context, self, _ASKS[0])

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type in _PASSED:
            return {"PASS_THROUGH"}
        if event.type in {"ESC", "RIGHTMOUSE"}:
            self._end(context)
            return {"CANCELLED"}
        if event.type == "MOUSEMOVE" and self._points:
            self._cursor = hit(context, event, self._panel)
            context.area.tag_redraw()
        if event.type == "LEFTMOUSE" and event.value == "PRESS":
            return self._clicked(context, event)
        return {"RUNNING_MODAL"}

    def _clicked(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        point = hit(context, event, self._panel)
        if point is None:
            self.report({"WARNING"}, "That is not on the panel; click on it")
            return {"RUNNING_MODAL"}
        self._points.append(point)
        if len(self._points) < 2:
            context.workspace.status_text_set(_ASKS[1])
            context.area.tag_redraw()
            return {"RUNNING_MODAL"}
        self._end(context)
        first, second = self._points
        bpy.ops.fillwright.size_from_tape("INVOKE_DEFAULT", first=first, second=second)
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        self._end(context)

    def _end(self, context: bpy.types.Context) -> None:
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
        asking.end(context)

    def _draw(self, region: bpy.types.Region) -> None:
        """The line from the first point to the cursor, in the view that it was started in."""
        if not self._points or self._cursor is None or bpy.context.region != region:
            return
        place = view3d_utils.location_3d_to_region_2d
        seen_from = bpy.context.space_data.region_3d
        ends = [place(region, seen_from, point) for point in (self._points[0], self._cursor)]
        if None not in ends:
            draw_line(ends)


def hit(context: bpy.types.Context, event: bpy.types.Event, panel: set[str]) -> Vector | None:
    """Where the cursor's ray meets the panel, through whatever lies before it; None where it does not."""
    region = next((r for r in context.area.regions if r.type == "WINDOW"), None)
    space = context.area.spaces.active.region_3d
    spot = (event.mouse_x - region.x, event.mouse_y - region.y)
    origin = view3d_utils.region_2d_to_origin_3d(region, space, spot)
    way = view3d_utils.region_2d_to_vector_3d(region, space, spot)
    depsgraph = context.evaluated_depsgraph_get()
    for _ in range(50):
        met, point, _normal, _face, obj, _matrix = context.scene.ray_cast(depsgraph, origin, way)
        if not met:
            return None
        if obj.name in panel:
            return point
        origin = point + way * max(1e-5, 1e-6 * point.length)
    return None


_TAPED = {"taped_mm": FloatProperty(
    name="Taped (mm)", default=1000.0, min=0.0, precision=1, description="Distance between them, in millimetres",
)}


class _Taped:
    __annotations__ = _TAPED | twins(_TAPED)


class FILLWRIGHT_OT_size_from_tape(_Taped, bpy.types.Operator):
    bl_idname = ids.SIZE_FROM_TAPE
    bl_label = "Set Size from Tape"
    bl_description = "Give the panel the size at which two of its points lie as far apart as taped"
    bl_options = {"REGISTER", "UNDO"}

    first: FloatVectorProperty(name="First Point", size=3, description="A point on the panel, in the scene's units")
    second: FloatVectorProperty(name="Second Point", size=3, description="Another point, in the scene's units")

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        own: Any = context.scene.fillwright
        apart = (Vector(self.second) - Vector(self.first)).length
        self.taped_mm = apart * mm_per_unit(context.scene, own.panel_unit)
        manager = context.window_manager
        return manager.invoke_props_dialog(self, title="How Far Apart Are They?", confirm_text="Set Size")

    def draw(self, context: bpy.types.Context) -> None:
        self.layout.use_property_split = True
        length(self.layout, context, self, "taped_mm")

    def execute(self, context: bpy.types.Context) -> set[str]:
        own = context.scene.fillwright
        try:
            own.panel_mm_per_unit = mm_per_unit_from_tape(self.first, self.second, self.taped_mm)
        except FillwrightError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        own.panel_unit = "OWN"
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_set_size, FILLWRIGHT_OT_size_from_tape)
