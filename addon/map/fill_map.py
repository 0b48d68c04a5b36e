"""Fill Map: the planned panel in its colours, with contour lines and the legend; and everything given back."""

from __future__ import annotations

import json
from typing import Any

import bpy

from ...core.bench.lay_up import LayUp
from ...core.legend.legend import Legend, legend
from ...core.report.laying_words import lay_up_of
from ..names import ids
from ..names.choices import shop_unit
from ..state.scene_state import carriers
from . import chalk, contour_object, fill_object, maps
from .planned_first import PlannedFirst


def planned(scene: bpy.types.Scene, arrays: dict[str, Any], holders: list[bpy.types.Object]) -> None:
    """A plan's answer has come: make what is drawn of it, and show the map."""
    panel = holders[0] if holders else None
    contour_object.put(scene, arrays, panel)
    chalk.put(scene, arrays, panel)
    fill_object.put(scene, arrays, panel)
    maps.show(scene, maps.FILL)


def key_of(scene: bpy.types.Scene) -> tuple[Legend, LayUp]:
    """The legend of the scene's plan, and how its material goes on."""
    record = json.loads(scene.fillwright.record)
    greatest_mm = record["material"]["greatest_depth_mm"]
    unit = record.get("shop_unit", shop_unit(scene))
    return legend(record["settings"]["true_mm"], greatest_mm, unit), lay_up_of(record)


class FILLWRIGHT_OT_fill_map(PlannedFirst, bpy.types.Operator):
    bl_idname = ids.FILL_MAP
    bl_label = "Fill Map"
    bl_description = "Show the panel in the colours of its depth with contour lines, or give back your own shading"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        if not carriers(context.scene):
            return "The planned panel is gone; plan again"
        return "Leave edit mode first" if any(obj.mode == "EDIT" for obj in carriers(context.scene)) else ""

    def execute(self, context: bpy.types.Context) -> set[str]:
        maps.show(context.scene, "" if maps.is_shown(context.scene.fillwright, maps.FILL) else maps.FILL)
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_fill_map,)
