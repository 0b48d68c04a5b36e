"""When a window comes to show another scene or screen, its plan is looked at again and its views are shaded for it.

Blender tells nobody of that: no handler of its own is called where the new scene has nothing to work out. So it is seen
when a view is drawn, and done right after, since nothing may be written while a view is being drawn.
"""

from __future__ import annotations

from typing import Any

import bpy

from ..scene import staleness
from . import shading


class _Shown:
    """What the windows showed when they were last drawn: by window the scene's and the screen's session_uid."""

    handle: Any = None
    last: tuple[tuple[int, int], ...] = ()


def _now() -> tuple[tuple[int, int], ...]:
    return tuple((window.scene.session_uid, window.screen.session_uid)
                 for window in bpy.context.window_manager.windows)


def _drawn() -> None:
    if _now() != _Shown.last and not bpy.app.timers.is_registered(look):
        bpy.app.timers.register(look, first_interval=0.0)


def look() -> None:
    """Look at every scene that is shown as it is now."""
    _Shown.last = _now()
    for window in bpy.context.window_manager.windows:
        layer = window.view_layer
        if layer is not None and layer.depsgraph is not None:
            staleness.look_again(window.scene, layer.depsgraph)
    shading.follow_scenes()


def register() -> None:
    _Shown.handle = bpy.types.SpaceView3D.draw_handler_add(_drawn, (), "WINDOW", "PRE_VIEW")


def unregister() -> None:
    if bpy.app.timers.is_registered(look):
        bpy.app.timers.unregister(look)
    if _Shown.handle is not None:
        bpy.types.SpaceView3D.draw_handler_remove(_Shown.handle, "WINDOW")
        _Shown.handle = None
