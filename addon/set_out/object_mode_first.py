"""Mixed into operators that bring objects into the scene: they work in Object Mode."""

from __future__ import annotations

from typing import Any

import bpy


class ObjectModeFirst:
    @classmethod
    def poll(cls: Any, context: bpy.types.Context) -> bool:
        missing = "Go to Object Mode first" if context.mode != "OBJECT" else cls.missing(context)
        if missing:
            cls.poll_message_set(missing)
        return not missing

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """What must be put right first, in words, or nothing."""
        return ""
