"""The sidebar's first step: Set Out."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.bench.hand import TESTED
from ..child.work_shown import button
from ..names import ids
from ..scene.chosen import PANEL, source, things
from ..sidebar.folding import FoldingStep, InStep, with_twins
from ..sidebar.pieces import chooser, length, named, unit_and_size, whole_width
from ..sidebar.shown import paragraph, shown, size_of


class FILLWRIGHT_PT_set_out(FoldingStep, bpy.types.Panel):
    bl_label = "Set Out"
    bl_order = 0
    step = "set_out"

    def outcome(self, context: bpy.types.Context) -> tuple[str, str]:
        """The panel's size, as a tape would say it."""
        own = context.scene.fillwright
        size, warning = size_of(context.scene, things(own, PANEL), own.panel_unit)
        return size, "ERROR" if warning else "NONE"

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        if source(own, PANEL) is None:
            _way_in(layout, context)
            chooser(layout, own, "panel", "Panel")
            return
        chooser(layout, own, "panel", "Panel")
        unit_and_size(layout, context, "panel")
        layout.operator(ids.SET_SIZE)
        layout.row().prop(own, "surface", expand=True)
        layout.label(text="How Rough Is Your Scan?")
        whole_width(layout, own, "scanner", "")
        if own.scanner == TESTED:
            length(layout, context, own, "tested_error_mm")
            length(layout, context, own, "tested_length_mm")
            button(layout, context, ids.TEST_SCANNER)
        whole_width(layout, own, "material", "Material")


def _way_in(layout: Any, context: bpy.types.Context) -> None:
    """What to do first, for who comes for the first time."""
    paragraph(layout, "Import the scan of your bare panel, or take one that is in the scene already:")
    column = layout.column(align=True)
    column.operator(ids.IMPORT_MESH, icon="IMPORT").role = PANEL
    column.operator(ids.TAKE_SELECTED).role = PANEL
    paragraph(layout, "or try an invented sample:")
    column = layout.column(align=True)
    column.operator(ids.LOAD_SAMPLE)
    column.operator(ids.LOAD_BONNET)


class FILLWRIGHT_PT_work_area(InStep, bpy.types.Panel):
    step = "set_out"
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


class FILLWRIGHT_PT_condition(InStep, bpy.types.Panel):
    step = "set_out"
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


class FILLWRIGHT_PT_condition_details(InStep, bpy.types.Panel):
    step = "set_out"
    bl_label = "Details"
    bl_parent_id = "FILLWRIGHT_PT_condition"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def there(cls, context: bpy.types.Context) -> bool:
        return bool(context.scene.fillwright.plan_id)

    def draw(self, context: bpy.types.Context) -> None:
        plan = shown(context.scene)
        for text in plan.details if plan else ():
            paragraph(self.layout, text)


CLASSES = with_twins(
    FILLWRIGHT_PT_set_out, FILLWRIGHT_PT_work_area, FILLWRIGHT_PT_condition, FILLWRIGHT_PT_condition_details,
)
