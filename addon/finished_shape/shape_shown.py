"""Panel and finished shape lie within millimetres of one another: one of them is shown at a time."""

from __future__ import annotations

from typing import Any

import bpy

from ..names import ids
from ..scene.basis import chosen
from ..scene.scene_meshes import SceneError


class FILLWRIGHT_OT_show_shape(bpy.types.Operator):
    bl_idname = ids.SHOW_SHAPE
    bl_label = "Show the Shape"
    bl_description = "Show the finished shape instead of the panel, or the panel again"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        own = context.scene.fillwright
        try:
            panel, target = chosen(own)
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        show = not is_shown(own)
        for objects, hide in ((panel, show), (target, not show)):
            for obj in objects:
                if obj.name in context.view_layer.objects:
                    obj.hide_set(hide)
        return {"FINISHED"}


def is_shown(own: Any) -> bool:
    """Whether the finished shape is shown and the panel hidden."""
    panel = [own.panel] if own.panel_collection is None else own.panel_collection.all_objects
    target = [own.target] if own.target_collection is None else own.target_collection.all_objects
    return any(_seen(obj) for obj in target) and not any(_seen(obj) for obj in panel)


def _seen(obj: bpy.types.Object | None) -> bool:
    return obj is not None and obj.type == "MESH" and obj.visible_get()


CLASSES = (FILLWRIGHT_OT_show_shape,)
