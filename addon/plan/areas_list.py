"""The list Low 1, Low 2 ... High 1, and the way to each in the view."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import IntProperty

from ..names import ids
from ..scene.framing import go_to
from ..sidebar.shown import shown


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


CLASSES = (FILLWRIGHT_UL_areas, FILLWRIGHT_OT_go_to_area)
