"""Find the Damage: a mark to start from, by how the panel is bent; the user looks at it and paints on."""

from __future__ import annotations

import bpy
import numpy as np
from bpy.props import BoolProperty

from ...core.jobs import find_damage
from ...core.legend import shop_units as shop
from ..child.asked import Asked, Prepared, answer_of, gather
from ..child.child_operator import ChildOperator
from ..marks.work_area import NAMES, fill_group, marked, panel_to_mark
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, part, source, things
from ..scene.scene_meshes import SceneError, object_of

_INSIDE = 0.5


class FILLWRIGHT_OT_suggest_damage(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.SUGGEST_DAMAGE
    bl_label = "Find the Damage"
    bl_description = "Mark what is bent otherwise than the metal around it, to be looked at and painted on"
    what = "search"

    replace: BoolProperty(
        default=False, options={"HIDDEN", "SKIP_SAVE"}, description="Replace marks that are there without asking",
    )

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if source(own, PANEL) else "Choose the panel first"

    def invoke(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if not self.replace and any(_has_marks(obj) for obj in things(context.scene.fillwright, PANEL)):
            context.window_manager.popup_menu(_ask, title="The panel is marked already", icon="QUESTION")
            return {"CANCELLED"}
        return super().invoke(context, event)

    def prepare(self, context: bpy.types.Context) -> Prepared:
        panel_to_mark(context, "DAMAGE")
        panel = gather(context, part(context.scene.fillwright, PANEL))
        return Prepared(context.scene.name, find_damage.Request(panel.part), {"panel": panel.meshes})

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        _, answer = answer_of(asked)
        meshes = asked.meshes["panel"]
        objects = [object_of(mesh) for mesh in meshes]
        for obj, mesh in zip(objects, meshes, strict=True):
            if obj is None or obj.mode != "OBJECT" or len(obj.data.vertices) != len(mesh.vertices):
                raise SceneError("the panel has changed meanwhile, so the marks don't fit it; find it again")
        ends = np.cumsum([len(mesh.vertices) for mesh in meshes])[:-1]
        inside = [np.flatnonzero(part > _INSIDE).tolist() for part in np.split(answer.arrays["map_mm"], ends)]
        for obj, rows in zip(objects, inside, strict=True):
            fill_group(obj, rows, "DAMAGE")
        marked(context, "DAMAGE")
        size = shop.area(answer.record["area_mm2"], shop_unit(context.scene))
        return f"Damage found: {size}; look at it, and paint on or take away"


def _has_marks(obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and NAMES["DAMAGE"] in obj.vertex_groups


def _ask(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    layout = menu.layout
    layout.operator_context = "INVOKE_DEFAULT"
    layout.operator(ids.SUGGEST_DAMAGE, text="Find It Anew, in Place of These Marks").replace = True


CLASSES = (FILLWRIGHT_OT_suggest_damage,)
