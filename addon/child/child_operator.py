"""Operators whose work a child process does: with progress and Esc in the window, waiting in scripts and tests."""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import bpy

from ...core.errors import FillwrightError
from ...core.report.window_words import in_window
from ..blender.greyed import Greyed
from ..blender.redraw import redraw_sidebar
from ..names.choices import shop_unit
from ..scene.staleness import look_again
from . import work_shown
from .asked import Asked, Prepared
from .work_shown import WAIT


class ChildOperator(Greyed):
    """Mixed into an operator, which says what is asked (`prepare`) and what becomes of the answer (`take`)."""

    bl_options = {"UNDO"}
    idname = ""  # as in ids.py: Blender changes bl_idname when it registers the class
    what = "work"  # as in "Esc stops the ..."

    _doubt = ""  # what the answer warns of, which must not wait to be found in the sidebar
    _laying: Future[Any] | None = None
    _asked: Asked | None = None
    _timer: bpy.types.Timer | None = None

    if TYPE_CHECKING:  # what each operator brings: abc can't ask for it, as Blender's classes have a metaclass already
        def prepare(self, context: bpy.types.Context) -> Prepared:
            """The scene's meshes and settings, or SceneError where there is something for the user to put right."""

        def take(self, context: bpy.types.Context, asked: Asked) -> str:
            """Put the child's answer into the scene; one sentence for the status bar."""

    @classmethod
    def before_all(cls, context: bpy.types.Context) -> str:
        return WAIT if context.window_manager.fillwright_running else ""

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Wait for the answer: in scripts, in the background, in tests."""
        try:
            asked = self.prepare(context).lay_out()
        except FillwrightError as error:
            return self._refuse(str(error))
        try:
            asked.start()
            return self._finish(context, asked, asked.child.wait())
        finally:
            asked.child.clear()

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        """Go on working in the window while the child does the work."""
        try:
            prepared = self.prepare(context)
        except FillwrightError as error:
            return self._refuse(str(error))
        # Writing a million triangles takes a fifth of a second, which the window would stand still.
        pool = ThreadPoolExecutor(1)
        self._laying = pool.submit(prepared.lay_out)
        pool.shutdown(wait=False)
        operator: Any = self
        self._timer = work_shown.begin(context, operator, self.idname, self.what)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type == "ESC":
            self._over(context)
            self._say("INFO", "Stopped; nothing was changed")
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if self._asked is None:
            return self._start(context)
        status = self._asked.child.poll()
        work_shown.tell(context, self._asked.child.share, self._asked.child.step)
        if status is None:
            return {"RUNNING_MODAL"}
        try:
            return self._finish(context, self._asked, status)
        finally:
            self._over(context)

    def _start(self, context: bpy.types.Context) -> set[str]:
        """Start the child as soon as everything is laid out for it."""
        assert self._laying is not None
        if not self._laying.done():
            return {"RUNNING_MODAL"}
        try:
            self._asked = self._laying.result()
            self._asked.start()
        except FillwrightError as error:
            self._over(context)
            return self._refuse(str(error))
        except Exception:
            self._over(context)
            raise
        return {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender is closing, or another file is loaded."""
        self._end(context)

    def _finish(self, context: bpy.types.Context, asked: Asked, status: int) -> set[str]:
        if status != 0:
            return self._refuse(in_window(asked.child.error(), shop_unit(context.scene)))
        try:
            self._say("INFO", self.take(context, asked))
            if self._doubt:
                self._say("WARNING", self._doubt[:1].upper() + self._doubt[1:])
        except FillwrightError as error:
            return self._refuse(str(error))
        redraw_sidebar()
        return {"FINISHED"}

    def _refuse(self, sentence: str) -> set[str]:
        self._say("ERROR", sentence)
        return {"CANCELLED"}

    def _say(self: Any, kind: str, sentence: str) -> None:
        self.report({kind}, sentence)

    def _over(self, context: bpy.types.Context) -> None:
        """It has ended, and Blender goes on: whether a plan holds was not looked at meanwhile."""
        self._end(context)
        look_again(context.scene, context.evaluated_depsgraph_get())

    def _end(self, context: bpy.types.Context) -> None:
        work_shown.end(context, self._timer)
        self._timer = None
        if self._asked is None and self._laying is not None:
            with suppress(FillwrightError):
                self._asked = self._laying.result()
        if self._asked is not None:
            self._asked.child.clear()
        self._asked = self._laying = None
        redraw_sidebar()
