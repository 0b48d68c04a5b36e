"""While a shape in the weigh-up is being changed, its totals are redone on thinned meshes and marked "rough"."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.app.handlers import persistent

from ...core.errors import FillwrightError
from ..blender.redraw import redraw_sidebar
from ..child.asked import Asked
from . import weigh_up

_PAUSE_S, _TICK_S = 0.3, 0.05
_waiting: set[int] = set()  # session_uid of shapes that were changed
_asked: list[Asked] = []  # the one child that works, if any


@persistent
def _after_update(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Note which of the weighed shapes was changed; looks at ids only."""
    weighed = scene.fillwright.shaping.weighed
    if not len(weighed) or bpy.context.window_manager.fillwright_running:
        return
    changed = {u.id.original.session_uid for u in depsgraph.updates if u.is_updated_geometry or u.is_updated_transform}
    ours = {e.shape.session_uid for e in weighed if e.done and e.shape is not None
            and {e.shape.session_uid, e.shape.data.session_uid} & changed}
    if ours:
        _waiting.update(ours)
        if not bpy.app.background and not bpy.app.timers.is_registered(_tick):
            bpy.app.timers.register(_tick, first_interval=_PAUSE_S)


def _tick() -> float | None:
    """Start a child for what has changed, hear it, take its answer; None when there is no more to do."""
    if _asked:
        status = _asked[0].child.poll()
        if status is None:
            return _TICK_S
        finish(status)
    if not _waiting:
        return None
    start(bpy.context)
    return _TICK_S if _asked else None


def start(context: bpy.types.Context) -> None:
    """A child for the shapes that wait; those that can't be weighed now are left as they are."""
    entries = [entry for entry in context.scene.fillwright.shaping.weighed
               if entry.shape is not None and entry.shape.session_uid in _waiting]
    _waiting.clear()
    if entries:
        try:
            _asked.append(weigh_up.prepare(context, entries, rough=True).lay_out())
            _asked[0].start()
        except FillwrightError:
            stop()


def finish(status: int) -> None:
    """Take the answer of the child that has ended, if it has one."""
    try:
        if status == 0:
            weigh_up.take(_asked[0])
            redraw_sidebar()
    except FillwrightError:
        pass  # the scene is gone, or its list: there is nothing to tell any more
    finally:
        stop()


def stop() -> None:
    """End the child that works."""
    while _asked:
        _asked.pop().child.clear()


@persistent
def _before_load(*_given: Any) -> None:
    _waiting.clear()
    stop()


_HANDLERS = ((bpy.app.handlers.depsgraph_update_post, _after_update), (bpy.app.handlers.load_pre, _before_load))


def register() -> None:
    for handlers, function in _HANDLERS:
        handlers.append(function)


def unregister() -> None:
    for handlers, function in _HANDLERS:
        if function in handlers:
            handlers.remove(function)
    if bpy.app.timers.is_registered(_tick):
        bpy.app.timers.unregister(_tick)
    _before_load()
