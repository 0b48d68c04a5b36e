"""The part of the panel that is to be planned: a vertex group, filled from a selection, a lasso or paint."""

from __future__ import annotations

import bpy
import numpy as np

from . import ids
from .job import objects_of
from .scene_meshes import SceneError


def panel_to_mark(context: bpy.types.Context) -> list[bpy.types.Object]:
    """The panel's objects, or SceneError where they can't be marked."""
    own = context.scene.fillwright
    found = objects_of(own.panel, own.panel_collection, "panel")
    for obj in found:
        if obj.library is not None or obj.data.library is not None:
            raise SceneError(f"{obj.name} is linked from another file and can't be marked; make it local first")
    return found


class _Marking:
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if not (own.panel or own.panel_collection):
            cls.poll_message_set("Choose the panel first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            self.report({"INFO"}, self.mark(context, panel_to_mark(context)))
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


class FILLWRIGHT_OT_work_area_from_selection(_Marking, bpy.types.Operator):
    bl_idname = ids.WORK_AREA_FROM_SELECTION
    bl_label = "From Selection"
    bl_description = "Make the panel's selected vertices the work area"

    def mark(self, context: bpy.types.Context, panel: list[bpy.types.Object]) -> str:
        """Take the selection of each object; edits that are open are closed, as groups can't be filled in them."""
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        selected = [_selected(obj.data) for obj in panel]
        count = sum(len(rows) for rows in selected)
        if count == 0:
            raise SceneError("no vertex of the panel is selected; select some in Edit Mode first")
        for obj, rows in zip(panel, selected, strict=True):
            fill_group(obj, rows)
        context.scene.fillwright.use_work_area = True
        return f"Work area: {count:,} vertices".replace(",", " ")


def fill_group(obj: bpy.types.Object, rows: list[int], how: str = "REPLACE") -> None:
    """Put vertices into the object's work area: REPLACE what it held, ADD to it, or SUBTRACT from it."""
    group = obj.vertex_groups.get(ids.WORK_AREA)
    if group is None:
        group = obj.vertex_groups.new(name=ids.WORK_AREA)
    if how == "REPLACE":
        group.remove(list(range(len(obj.data.vertices))))
    if how == "SUBTRACT":
        group.remove(rows)
    else:
        group.add(rows, 1.0, "REPLACE")
    obj.data.update()


def _selected(mesh: bpy.types.Mesh) -> list[int]:
    chosen = np.zeros(len(mesh.vertices), dtype=bool)
    mesh.vertices.foreach_get("select", chosen)
    rows: list[int] = np.flatnonzero(chosen).tolist()
    return rows


class FILLWRIGHT_OT_work_area_paint(_Marking, bpy.types.Operator):
    bl_idname = ids.WORK_AREA_PAINT
    bl_label = "Paint"
    bl_description = "Paint the work area onto the panel as weights; over a half counts as inside"

    def mark(self, context: bpy.types.Context, panel: list[bpy.types.Object]) -> str:
        obj = context.active_object if context.active_object in panel else panel[0]
        _only(context, [obj])
        group = obj.vertex_groups.get(ids.WORK_AREA)
        if group is None:
            group = obj.vertex_groups.new(name=ids.WORK_AREA)
        obj.vertex_groups.active_index = group.index
        context.scene.fillwright.use_work_area = True
        bpy.ops.object.mode_set(mode="WEIGHT_PAINT")
        return "Paint the work area with weight 1; go back to Object Mode when it is done"


def _only(context: bpy.types.Context, objects: list[bpy.types.Object]) -> None:
    """Have exactly these objects selected, in Object Mode."""
    if context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    hidden = [obj.name for obj in objects if not obj.visible_get(view_layer=context.view_layer)]
    if hidden:
        raise SceneError(f"{hidden[0]} is hidden; show it first")
    for obj in list(context.selected_objects):
        obj.select_set(False)
    for obj in objects:
        obj.select_set(True)
    context.view_layer.objects.active = objects[0]


CLASSES = (FILLWRIGHT_OT_work_area_from_selection, FILLWRIGHT_OT_work_area_paint)
