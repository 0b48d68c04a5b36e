"""Plan the Fill: the one main button."""

from __future__ import annotations

import bpy

from ..child.child_operator import ChildOperator
from ..names import ids
from .job import Asked, Prepared, prepare, take


class FILLWRIGHT_OT_plan(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.PLAN
    bl_label = "Plan the Fill"
    bl_description = "Work out how deep, where, how much to lay and buy, and how thick to overbuild"
    what = "plan"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        if not ((own.panel or own.panel_collection) and (own.target or own.target_collection)):
            return "Choose the panel and the finished shape first"
        return ""

    def prepare(self, context: bpy.types.Context) -> Prepared:
        return prepare(context)

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        return take(context, asked)


CLASSES = (FILLWRIGHT_OT_plan,)
