"""Panel and finished shape lie within millimetres of one another: one of them is shown at a time."""

from __future__ import annotations

from typing import Any

import bpy

from ..names import ids
from ..scene.chosen import PANEL, TARGET, both, things
from ..scene.scene_meshes import SceneError


class FILLWRIGHT_OT_show_shape(bpy.types.Operator):
    bl_idname = ids.SHOW_SHAPE
    bl_label = "Show the Shape"
    bl_description = "Show the finished shape instead of the panel, or the panel again"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        own = context.scene.fillwright
        try:
            panel, target = both(own)
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        show = not is_shown(own)
        for objects, hide in ((panel.objects, show), (target.objects, not show)):
            for obj in objects:
                if obj.name in context.view_layer.objects:
                    obj.hide_set(hide)
        return {"FINISHED"}


def is_shown(own: Any) -> bool:
    """Whether the finished shape is shown and the panel hidden."""
    return any(_seen(obj) for obj in things(own, TARGET)) and not any(_seen(obj) for obj in things(own, PANEL))


def _seen(obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and obj.visible_get()


CLASSES = (FILLWRIGHT_OT_show_shape,)
