"""Marks on the panel: vertex groups filled from a selection, a lasso or paint.

Three kinds: the Work Area, which is to be planned; the Damage, through which sound metal is carried; and what is Set
Aside, on the panel or on the body to be mirrored, when these are lined up.
"""

from __future__ import annotations

import bpy
import numpy as np
from bpy.props import EnumProperty

from ..names import ids
from ..scene.chosen import PANEL, meshes_of, part, source
from ..scene.scene_meshes import SceneError
from . import chalk_grey
from .mark_outline import show_outline

GROUPS = [
    ("WORK_AREA", ids.WORK_AREA, "The part of the panel that is to be planned"),
    ("DAMAGE", ids.DAMAGE, "Damaged metal through which the sound metal around is carried"),
    ("SET_ASIDE", ids.ASIDE, "Handle, glass or moulding, which take no part when the panel is lined up"),
    ("BODY_ASIDE", f"{ids.ASIDE} on the Body", "The same on the body, when its good side is mirrored"),
]
NAMES = {"WORK_AREA": ids.WORK_AREA, "DAMAGE": ids.DAMAGE, "SET_ASIDE": ids.ASIDE, "BODY_ASIDE": ids.ASIDE}
WORDS = {"WORK_AREA": "work area", "DAMAGE": "damage", "SET_ASIDE": "part to set aside",
         "BODY_ASIDE": "part to set aside"}


def panel_to_mark(context: bpy.types.Context, group: str = "WORK_AREA") -> list[bpy.types.Object]:
    """The objects to mark, the panel's, the old scan's or the body, or SceneError where they can't be marked."""
    own = context.scene.fillwright
    if group == "DAMAGE" and own.shaping.way == "AS_IT_WAS":
        found = meshes_of(own.shaping.old, "old scan")
    elif group == "BODY_ASIDE" and own.shaping.body is not None:
        found = meshes_of(own.shaping.body, "body")
    else:
        found = part(own, PANEL).objects
    for obj in found:
        if obj.library is not None or obj.data.library is not None:
            raise SceneError(f"{obj.name} is linked from another file and can't be marked; make it local first")
    return list(found)


def marked(context: bpy.types.Context, group: str) -> None:
    """A group was marked: it is shown, and the work area is used from now on."""
    show_outline(context, panel_to_mark(context, group), NAMES[group])
    if group == "WORK_AREA":
        context.scene.fillwright.use_work_area = True
    if group == "DAMAGE":
        context.scene.fillwright.shaping.marks_changed = True


class _Marking:
    bl_options = {"REGISTER", "UNDO"}
    group: EnumProperty(name="Mark", items=GROUPS, description="What is marked")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if source(own, PANEL) is None and own.shaping.body is None:
            cls.poll_message_set("Choose the panel first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            self.report({"INFO"}, self.mark(context, panel_to_mark(context, self.group)))
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


class FILLWRIGHT_OT_work_area_from_selection(_Marking, bpy.types.Operator):
    bl_idname = ids.WORK_AREA_FROM_SELECTION
    bl_label = "From Selection"
    bl_description = "Mark the selected vertices, and nothing else"

    def mark(self, context: bpy.types.Context, panel: list[bpy.types.Object]) -> str:
        """Take the selection of each object; edits that are open are closed, as groups can't be filled in them."""
        if context.mode != "OBJECT":
            bpy.ops.object.mode_set(mode="OBJECT")
        selected = [_selected(obj.data) for obj in panel]
        count = sum(len(rows) for rows in selected)
        if count == 0:
            raise SceneError("no vertex of the panel is selected; select some in Edit Mode first")
        for obj, rows in zip(panel, selected, strict=True):
            fill_group(obj, rows, self.group)
        marked(context, self.group)
        return f"{WORDS[self.group].capitalize()}: {count:,} vertices".replace(",", " ")


def fill_group(obj: bpy.types.Object, rows: list[int], kind: str, how: str = "REPLACE") -> None:
    """Put vertices into the object's group of a kind: REPLACE what it held, ADD to it, or SUBTRACT from it."""
    group = _group(obj, kind)
    if how == "REPLACE":
        group.remove(list(range(len(obj.data.vertices))))
    if how == "SUBTRACT":
        group.remove(rows)
    else:
        group.add(rows, 1.0, "REPLACE")
    obj.data.update()


def _group(obj: bpy.types.Object, kind: str) -> bpy.types.VertexGroup:
    return obj.vertex_groups.get(NAMES[kind]) or obj.vertex_groups.new(name=NAMES[kind])


def _selected(mesh: bpy.types.Mesh) -> list[int]:
    chosen = np.zeros(len(mesh.vertices), dtype=bool)
    mesh.vertices.foreach_get("select", chosen)
    rows: list[int] = np.flatnonzero(chosen).tolist()
    return rows


class FILLWRIGHT_OT_work_area_paint(_Marking, bpy.types.Operator):
    bl_idname = ids.WORK_AREA_PAINT
    bl_label = "Paint"
    bl_description = "Paint the mark onto the panel as weights; over a half counts as inside"

    def mark(self, context: bpy.types.Context, panel: list[bpy.types.Object]) -> str:
        obj = context.active_object if context.active_object in panel else panel[0]
        _only(context, [obj])
        obj.vertex_groups.active_index = _group(obj, self.group).index
        marked(context, self.group)
        bpy.ops.object.mode_set(mode="WEIGHT_PAINT")
        chalk_grey.take()
        return f"Paint the {WORDS[self.group]} with weight 1; go back to Object Mode when it is done"


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
