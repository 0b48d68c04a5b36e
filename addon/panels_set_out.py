"""The sidebar's first step: Set Out."""

from __future__ import annotations

from typing import Any

import bpy

from . import ids
from .shown import paragraph, shown, size_of


class Step:
    """Where every step of the sidebar sits."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = ids.CATEGORY


def chooser(layout: Any, own: Any, role: str, name: str) -> None:
    """One object, or a collection instead of it."""
    obj, collection = getattr(own, role), getattr(own, f"{role}_collection")
    if collection is None:
        layout.prop(own, role, text=name)
    if obj is None or collection is not None:
        layout.prop(own, f"{role}_collection", text="or Collection" if collection is None else name)


def unit_and_size(layout: Any, context: bpy.types.Context, role: str) -> None:
    """The declared unit with the overall size that it makes, and a warning where no panel is of that size."""
    own = context.scene.fillwright
    unit = getattr(own, f"{role}_unit")
    layout.prop(own, f"{role}_unit")
    size, warning = size_of(context.scene, getattr(own, role), getattr(own, f"{role}_collection"), unit)
    if size:
        named(layout, "Size", size, "ERROR" if warning else "NONE")
    if warning:
        paragraph(layout, context, warning, "ERROR")


def named(layout: Any, name: str, value: str, icon: str = "NONE") -> None:
    """A name and a figure, in the two columns that properties have."""
    split = layout.split(factor=0.4)
    left = split.row()
    left.alignment = "RIGHT"
    left.label(text=name)
    split.label(text=value, icon=icon)


class FILLWRIGHT_PT_set_out(Step, bpy.types.Panel):
    bl_label = "Set Out"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        if not (own.panel or own.panel_collection):
            column = layout.column(align=True)
            column.operator(ids.LOAD_SAMPLE)
            column.operator(ids.LOAD_BONNET)
        chooser(layout, own, "panel", "Panel")
        unit_and_size(layout, context, "panel")
        layout.operator(ids.SET_SIZE)
        layout.row().prop(own, "surface", expand=True)
        layout.prop(own, "scanner")
        layout.prop(own, "material")


class FILLWRIGHT_PT_work_area(Step, bpy.types.Panel):
    bl_label = "Work Area"
    bl_parent_id = "FILLWRIGHT_PT_set_out"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        row = layout.row(align=True)
        row.operator(ids.WORK_AREA_LASSO)
        if context.mode == "PAINT_WEIGHT":
            row.operator("object.mode_set", text="Painting Is Done").mode = "OBJECT"
        else:
            row.operator(ids.WORK_AREA_PAINT)
        layout.operator(ids.WORK_AREA_FROM_SELECTION)
        layout.prop(own, "use_work_area")


class FILLWRIGHT_PT_condition(Step, bpy.types.Panel):
    bl_label = "Scan Condition"
    bl_parent_id = "FILLWRIGHT_PT_set_out"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        layout, plan = self.layout, shown(context.scene)
        if plan is None:
            row = layout.row()
            row.enabled = False
            row.label(text="Known after the first plan")
            return
        column = layout.column(align=True)
        for line in plan.condition:
            named(column, line.name, f"{line.value}, {line.more}" if line.more else line.value)


class FILLWRIGHT_PT_condition_details(Step, bpy.types.Panel):
    bl_label = "Details"
    bl_parent_id = "FILLWRIGHT_PT_condition"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return bool(context.scene.fillwright.plan_id)

    def draw(self, context: bpy.types.Context) -> None:
        plan = shown(context.scene)
        for text in plan.details if plan else ():
            paragraph(self.layout, context, text)


CLASSES = (
    FILLWRIGHT_PT_set_out, FILLWRIGHT_PT_work_area, FILLWRIGHT_PT_condition, FILLWRIGHT_PT_condition_details,
)
