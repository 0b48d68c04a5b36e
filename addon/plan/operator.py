"""Plan the Fill: the one main button."""

from __future__ import annotations

import bpy

from ..child.asked import Asked, Prepared
from ..child.child_operator import ChildOperator
from ..names import ids
from ..scene.chosen import PANEL, TARGET, source
from .job import prepare, take


class FILLWRIGHT_OT_plan(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.PLAN
    bl_label = "Plan the Fill"
    bl_description = "Work out how deep, where, how much to lay and buy, and how thick to overbuild"
    what = "plan"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if source(own, PANEL) and source(own, TARGET) else "Choose the panel and the finished shape first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        return prepare(context)

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        return take(context, asked)


CLASSES = (FILLWRIGHT_OT_plan,)
