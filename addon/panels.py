"""The sidebar, step by step in the order of the job."""

from __future__ import annotations

import json

import bpy

from . import ids


class _Step:
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = ids.CATEGORY


class FILLWRIGHT_PT_set_out(_Step, bpy.types.Panel):
    bl_label = "Set Out"

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.prop(own, "panel")
        layout.prop(own, "panel_unit")
        layout.prop(own, "painted")
        if own.painted == "PAINTED":
            layout.prop(own, "paint_mm")
        layout.prop(own, "material")
        layout.prop(own, "scanner")


class FILLWRIGHT_PT_finished_shape(_Step, bpy.types.Panel):
    bl_label = "Finished Shape"

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.prop(own, "target", text="I Have One")
        layout.prop(own, "target_unit")


class FILLWRIGHT_PT_plan(_Step, bpy.types.Panel):
    bl_label = "Plan the Fill"

    def draw(self, context: bpy.types.Context) -> None:
        layout, manager = self.layout, context.window_manager
        if manager.fillwright_running:
            layout.progress(factor=manager.fillwright_share, text=manager.fillwright_step)
        else:
            layout.operator(ids.PLAN)
        if context.scene.fillwright.record:
            record = json.loads(context.scene.fillwright.record)
            layout.label(text=f"Fill {record['fill_volume_mm3'] / 1000:.1f} cm3")


CLASSES = (FILLWRIGHT_PT_set_out, FILLWRIGHT_PT_finished_shape, FILLWRIGHT_PT_plan)
