"""The list Low 1, Low 2 ... High 1, and the way to each in the view."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import IntProperty
from mathutils import Quaternion, Vector

from ..core.report.plan_lines import view_width_mm
from . import ids
from .shown import shown


class FILLWRIGHT_UL_areas(bpy.types.UIList):
    bl_idname = "FILLWRIGHT_UL_areas"

    def draw_item(
        self, context: Any, layout: Any, _data: Any, item: Any, _icon: int, _active: Any, _property: str, index: int
    ) -> None:
        plan = shown(context.scene)
        if plan is not None and index < len(plan.areas):
            table_row(layout, item.name, plan.areas[index])


def heading(layout: Any, figures: tuple[str, ...]) -> None:
    """What stands over the list's columns."""
    row = layout.row()
    row.active = False
    table_row(row, "", figures)


def table_row(layout: Any, name: str, figures: tuple[str, ...]) -> None:
    """One row of the list: a name and a low's four figures or a high's two, each in a column of its own."""
    split = layout.split(factor=0.24)
    split.label(text=name)
    for width, text in zip((0.23, 0.3, 0.46, 1.0) if len(figures) > 2 else (0.23, 1.0), figures, strict=True):
        cell = split if width == 1.0 else (split := split.split(factor=width))
        row = cell.row()
        row.alignment = "RIGHT"
        row.label(text=text)


class FILLWRIGHT_OT_go_to_area(bpy.types.Operator):
    bl_idname = ids.GO_TO_AREA
    bl_label = "Go to Area"
    bl_description = "Bring the view to the deepest point of the area chosen in the list"

    index: IntProperty(name="Area", default=-1, description="Place in the list from 0; -1 is the one chosen there")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not context.scene.fillwright.areas:
            cls.poll_message_set("There is no area yet; plan the fill first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        own = context.scene.fillwright
        index = own.active_area if self.index < 0 else self.index
        if not go_to(context, own, index):
            self.report({"WARNING"}, "There is no such area, or no 3D view to show it in")
            return {"CANCELLED"}
        return {"FINISHED"}


def go_to(context: bpy.types.Context, own: Any, index: int) -> bool:
    """Bring every 3D view of the window to an area; whether there is such an area and a view."""
    if not 0 <= index < len(own.areas):
        return False
    item = own.areas[index]
    point = Vector(item.deepest_point_mm) / own.planned_mm_per_unit
    width = view_width_mm(item.area_mm2) / own.planned_mm_per_unit
    views = [area.spaces.active for area in _view_areas(context)]
    for space in views:
        frame(space, point, width)
    return bool(views)


def frame(space: bpy.types.SpaceView3D, point: Vector, width: float) -> None:
    """Have ``width`` around ``point`` fill a 3D view, seen from where it is seen now."""
    region = space.region_3d
    if region.view_perspective == "CAMERA":
        region.view_perspective = "PERSP"
    region.view_location = point
    region.view_distance = width
    if width > 0.2 * space.clip_end:  # a panel in millimetres lies beyond a new file's view
        space.clip_end = 20.0 * width
        space.clip_start = max(space.clip_start, width / 1000.0)  # else lines on the panel break into specks


def _view_areas(context: bpy.types.Context) -> list[bpy.types.Area]:
    screen = getattr(context, "screen", None)
    return [area for area in screen.areas if area.type == "VIEW_3D"] if screen else []


def frame_all(context: bpy.types.Context, corners: list[Vector], seen_from: Quaternion) -> None:
    """Have the box around ``corners`` fill the window's 3D views, turned as ``seen_from`` says."""
    low = Vector(map(min, zip(*corners, strict=True)))
    high = Vector(map(max, zip(*corners, strict=True)))
    for area in _view_areas(context):
        frame(area.spaces.active, 0.5 * (low + high), 1.3 * (high - low).length)
        area.spaces.active.region_3d.view_rotation = seen_from
        area.tag_redraw()


CLASSES = (FILLWRIGHT_UL_areas, FILLWRIGHT_OT_go_to_area)
