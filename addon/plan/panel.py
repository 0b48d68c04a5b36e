"""The sidebar's main step: Plan the Fill with its results, and what can be done with them."""

from __future__ import annotations

import bpy

from ..child.work_shown import button
from ..names import ids
from ..names.plain_settings import PLAIN
from ..scene.lined_up import placing, stands
from ..sidebar.pieces import Step, figures, length, warnings
from ..sidebar.shown import paragraph, shown
from .areas_list import heading


class FILLWRIGHT_PT_plan(Step, bpy.types.Panel):
    bl_label = "Plan the Fill"
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout, own, plan = self.layout, context.scene.fillwright, shown(context.scene)
        button(layout, context, ids.PLAN)
        if plan is None:
            return
        if own.out_of_date:
            layout.label(text="Out of date: plan again", icon="ERROR")
        column = layout.column()
        column.active = not own.out_of_date
        figures(column, plan.first, own.out_of_date)
        if len(own.areas):
            rows = max(3, min(len(own.areas), 8))
            column = layout.column(align=True)
            heading(column, plan.heading)
            column.template_list("FILLWRIGHT_UL_areas", "", own, "areas", own, "active_area", rows=rows)
            layout.operator(ids.GO_TO_AREA)


class FILLWRIGHT_PT_amounts(Step, bpy.types.Panel):
    bl_label = "All Amounts"
    bl_parent_id = "FILLWRIGHT_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return shown(context.scene) is not None

    def draw(self, context: bpy.types.Context) -> None:
        plan, own = shown(context.scene), context.scene.fillwright
        column = self.layout.column()
        column.active = not own.out_of_date
        figures(column, plan.results if plan else (), own.out_of_date)


class FILLWRIGHT_PT_warnings(Step, bpy.types.Panel):
    bl_label = "Warnings"
    bl_parent_id = "FILLWRIGHT_PT_plan"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        plan = shown(context.scene)
        return plan is not None and bool(plan.warnings)

    def draw(self, context: bpy.types.Context) -> None:
        plan = shown(context.scene)
        warnings(self.layout, context, plan.warnings if plan else ())


class FILLWRIGHT_PT_cautions(Step, bpy.types.Panel):
    bl_label = "Safety"
    bl_parent_id = "FILLWRIGHT_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return shown(context.scene) is not None

    def draw(self, context: bpy.types.Context) -> None:
        plan = shown(context.scene)
        for title, sentences in plan.cautions if plan else ():
            column = self.layout.column(align=True)
            column.label(text=title)
            for text in sentences:
                paragraph(column, text, "DOT")


class FILLWRIGHT_PT_more(Step, bpy.types.Panel):
    bl_label = "More"
    bl_parent_id = "FILLWRIGHT_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(own, "hand")
        for name in PLAIN:
            row = layout.row()
            row.enabled = name != "line_up_uncertainty_mm" or placing(own) is None
            if name.endswith("_mm"):
                length(row, context, own, name)
            else:
                row.prop(own, name)
        row = layout.row()
        row.enabled = stands(own)
        row.prop(own, "line_up_by_place")


CLASSES = (
    FILLWRIGHT_PT_plan, FILLWRIGHT_PT_warnings, FILLWRIGHT_PT_amounts, FILLWRIGHT_PT_cautions, FILLWRIGHT_PT_more,
)
