"""Make Fill Mesh: the fill of the last plan shown in place of the map."""

from __future__ import annotations

import bpy

from ..names import ids
from . import maps
from .on_panel import find, show
from .planned_first import PlannedFirst


class FILLWRIGHT_OT_make_fill_mesh(PlannedFirst, bpy.types.Operator):
    bl_idname = ids.MAKE_FILL
    bl_label = "Make Fill Mesh"
    bl_description = "Show the fill as closed shells in place of the map, one for each low, and select it"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        return "" if context.mode == "OBJECT" else "Leave edit or paint mode first"

    def execute(self, context: bpy.types.Context) -> set[str]:
        obj = find(context.scene, ids.FILL)
        if obj is None:
            self.report({"ERROR"}, "The fill was deleted; plan again to have it back")
            return {"CANCELLED"}
        if not len(obj.data.polygons):
            self.report({"WARNING"}, "There is nothing to fill in this plan")
            return {"CANCELLED"}
        maps.show(context.scene, "")  # the fill would lie over it
        show(obj, True)
        if obj.name in context.view_layer.objects:
            obj.hide_set(False)
            for other in context.selected_objects:
                other.select_set(False)
            obj.select_set(True)
            context.view_layer.objects.active = obj
        lows = sum(area.kind == "low" for area in context.scene.fillwright.areas)
        shells = f"{lows} closed shell{'' if lows == 1 else 's'}"
        self.report({"INFO"}, f"The fill: {shells} in the collection {ids.COLLECTION}")
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_make_fill_mesh,)
