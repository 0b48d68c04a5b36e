"""Plan the Fill: the one main button."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import Any

import bpy

from . import ids
from .job import Asked, ask, prepare, take
from .scene_meshes import SceneError
from .shown import redraw_sidebar

_TICK_S = 0.05


class FILLWRIGHT_OT_plan(bpy.types.Operator):
    bl_idname = ids.PLAN
    bl_label = "Plan the Fill"
    bl_description = "Work out how deep, where, how much to lay and buy, and how thick to overbuild"
    bl_options = {"UNDO"}

    _laying: Future[Asked] | None = None
    _asked: Asked | None = None
    _timer: bpy.types.Timer | None = None

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if context.window_manager.fillwright_running:
            cls.poll_message_set("A plan is being worked out; press Esc to stop it")
            return False
        if not ((own.panel or own.panel_collection) and (own.target or own.target_collection)):
            cls.poll_message_set("Choose the panel and the finished shape first")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Wait for the answer: in scripts, in the background, in tests."""
        try:
            asked = ask(context)
        except SceneError as error:
            return self._refuse(str(error))
        try:
            asked.child.start()
            status = asked.child.wait()
            return self._finish(context, asked, status)
        finally:
            asked.child.clear()

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Go on working in the window while the child does the work."""
        try:
            prepared = prepare(context)
        except SceneError as error:
            return self._refuse(str(error))
        # Writing a million triangles takes a fifth of a second, which the window would stand still.
        pool = ThreadPoolExecutor(1)
        self._laying = pool.submit(prepared.lay_out)
        pool.shutdown(wait=False)
        manager = context.window_manager
        self._timer = manager.event_timer_add(_TICK_S, window=context.window)
        manager.fillwright_running = True
        _tell(context, 0.0, "Starting")
        context.workspace.status_text_set("Fillwright: Esc stops the plan")
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type == "ESC":
            self._end(context)
            self.report({"INFO"}, "Stopped; nothing was changed")
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if self._asked is None:
            return self._start(context)
        status = self._asked.child.poll()
        _tell(context, self._asked.child.share, self._asked.child.step)
        if status is None:
            return {"RUNNING_MODAL"}
        try:
            return self._finish(context, self._asked, status)
        finally:
            self._end(context)

    def _start(self, context: bpy.types.Context) -> set[str]:
        """Start the child as soon as everything is laid out for it."""
        assert self._laying is not None
        if not self._laying.done():
            return {"RUNNING_MODAL"}
        try:
            self._asked = self._laying.result()
            self._asked.child.start()
        except SceneError as error:
            self._end(context)
            return self._refuse(str(error))
        except Exception:
            self._end(context)
            raise
        return {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender is closing, or another file is loaded."""
        self._end(context)

    def _finish(self, context: bpy.types.Context, asked: Asked, status: int) -> set[str]:
        if status != 0:
            return self._refuse(asked.child.error())
        try:
            self.report({"INFO"}, take(context, asked))
        except SceneError as error:
            return self._refuse(str(error))
        redraw_sidebar()
        return {"FINISHED"}

    def _refuse(self, sentence: str) -> set[str]:
        self.report({"ERROR"}, sentence)
        return {"CANCELLED"}

    def _end(self, context: bpy.types.Context) -> None:
        manager: Any = context.window_manager
        if self._timer is not None:
            manager.event_timer_remove(self._timer)
            self._timer = None
        manager.fillwright_running = False
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        if self._asked is None and self._laying is not None:
            with suppress(SceneError):
                self._asked = self._laying.result()
        if self._asked is not None:
            self._asked.child.clear()
        self._asked = self._laying = None
        redraw_sidebar()


def _tell(context: bpy.types.Context, share: float, step: str) -> None:
    manager: Any = context.window_manager
    if (manager.fillwright_share, manager.fillwright_step) != (share, step):
        manager.fillwright_share, manager.fillwright_step = share, step
        redraw_sidebar()


CLASSES = (FILLWRIGHT_OT_plan,)
