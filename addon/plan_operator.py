"""Plan the Fill: the one main button."""

from __future__ import annotations

from typing import Any

import bpy

from . import ids
from .job import Asked, ask, take
from .scene_meshes import SceneError
from .shown import redraw_views

_TICK_S = 0.05


class FILLWRIGHT_OT_plan(bpy.types.Operator):
    bl_idname = ids.PLAN
    bl_label = "Plan the Fill"
    bl_description = "Work out how deep, where, how much to lay and buy, and how thick to overbuild"
    bl_options = {"UNDO"}

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
            self._asked = ask(context)
        except SceneError as error:
            return self._refuse(str(error))
        self._asked.child.start()
        manager = context.window_manager
        self._timer = manager.event_timer_add(_TICK_S, window=context.window)
        manager.fillwright_running = True
        context.workspace.status_text_set("Fillwright: Esc stops the plan")
        manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        assert self._asked is not None
        if event.type == "ESC":
            self._end(context)
            self.report({"INFO"}, "Stopped; nothing was changed")
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        child = self._asked.child
        status = child.poll()
        manager = context.window_manager
        if (manager.fillwright_share, manager.fillwright_step) != (child.share, child.step):
            manager.fillwright_share, manager.fillwright_step = child.share, child.step
            redraw_views()
        if status is None:
            return {"RUNNING_MODAL"}
        try:
            return self._finish(context, self._asked, status)
        finally:
            self._end(context)

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
        redraw_views()
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
        if self._asked is not None:
            self._asked.child.clear()
            self._asked = None
        redraw_views()


CLASSES = (FILLWRIGHT_OT_plan,)
