"""Fillwright in Blender: meshes in, attributes and objects out. No arithmetic of its own."""

from __future__ import annotations

import bpy
from bpy.props import BoolProperty, FloatProperty, PointerProperty, StringProperty

from . import panels, plan_operator, preferences, state

_CLASSES: tuple[type, ...] = (
    preferences.FillwrightPreferences, state.FillwrightArea, state.FillwrightScene,
    plan_operator.FILLWRIGHT_OT_plan, *panels.CLASSES,
)
_PROPERTIES = (
    (bpy.types.Scene, "fillwright", lambda: PointerProperty(type=state.FillwrightScene)),
    (bpy.types.WindowManager, "fillwright_running", lambda: BoolProperty(options={"SKIP_SAVE"})),
    (bpy.types.WindowManager, "fillwright_share", lambda: FloatProperty(options={"SKIP_SAVE"})),
    (bpy.types.WindowManager, "fillwright_step", lambda: StringProperty(options={"SKIP_SAVE"})),
)


def register() -> None:
    """All of it, or none: what was registered before a failure is taken out again."""
    done: list[type] = []
    try:
        for cls in _CLASSES:
            bpy.utils.register_class(cls)
            done.append(cls)
        for owner, name, make in _PROPERTIES:
            setattr(owner, name, make())
    except Exception:
        _take_out(done)
        raise


def unregister() -> None:
    """Take everything out again."""
    _take_out(list(_CLASSES))


def _take_out(classes: list[type]) -> None:
    for owner, name, _make in _PROPERTIES:
        if hasattr(owner, name):
            delattr(owner, name)
    for cls in reversed(classes):
        bpy.utils.unregister_class(cls)
