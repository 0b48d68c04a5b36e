"""Mixed into operators that bring objects into the scene: they work in Object Mode."""

from __future__ import annotations

import bpy

from ..blender.greyed import Greyed


class ObjectModeFirst(Greyed):
    @classmethod
    def before_all(cls, context: bpy.types.Context) -> str:
        return "" if context.mode == "OBJECT" else "Go to Object Mode first"
