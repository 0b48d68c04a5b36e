"""Mixed into operators that work on the plan: there must be one."""

from __future__ import annotations

import bpy

from ..blender.greyed import Greyed


class PlannedFirst(Greyed):
    @classmethod
    def before_all(cls, context: bpy.types.Context) -> str:
        return "" if context.scene.fillwright.record else "Plan the fill first"
