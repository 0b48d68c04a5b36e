"""Mixed into operators that work on the plan: there must be one."""

from __future__ import annotations

from typing import Any

import bpy


class PlannedFirst:
    @classmethod
    def poll(cls: Any, context: bpy.types.Context) -> bool:
        if not context.scene.fillwright.record:
            cls.poll_message_set("Plan the fill first")
            return False
        missing = cls.missing(context)
        if missing:
            cls.poll_message_set(missing)
        return not missing

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """What must be put right first, in words, or nothing."""
        return ""
