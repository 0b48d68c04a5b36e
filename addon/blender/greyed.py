"""Mixed into operators whose buttons are grey until something is so, and say why."""

from __future__ import annotations

from typing import Any

import bpy


class Greyed:
    @classmethod
    def poll(cls: Any, context: bpy.types.Context) -> bool:
        why = cls.before_all(context) or cls.missing(context)
        if why:
            cls.poll_message_set(why)
        return not why

    @classmethod
    def before_all(cls, context: bpy.types.Context) -> str:
        """What a whole kind of operators wants first, in words, or nothing."""
        return ""

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        """What this one wants besides, in words, or nothing."""
        return ""
