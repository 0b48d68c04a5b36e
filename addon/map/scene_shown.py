"""When a window comes to show another scene or screen, its plan is looked at again and its views are shaded for it.

Blender tells nobody of that: no handler of its own is called where the new scene has nothing to work out. So it is seen
when a view is drawn, and done right after, since nothing may be written while a view is being drawn.
"""

from __future__ import annotations

import bpy

from ..blender.after_drawing import AfterDrawing
from ..scene import staleness
from . import shading


class _Shown:
    """What the windows showed when they were last looked at: by window the scene's and the screen's session_uid."""

    last: tuple[tuple[int, int], ...] = ()


def _now() -> tuple[tuple[int, int], ...]:
    return tuple((window.scene.session_uid, window.screen.session_uid)
                 for window in bpy.context.window_manager.windows)


def look() -> None:
    """Look at every scene that is shown as it is now."""
    _Shown.last = _now()
    for window in bpy.context.window_manager.windows:
        layer = window.view_layer
        if layer is not None and layer.depsgraph is not None:
            staleness.look_again(window.scene, layer.depsgraph)
    shading.follow_scenes()


_LOOK = AfterDrawing(lambda: _now() != _Shown.last, look)
register, unregister = _LOOK.begin, _LOOK.end
