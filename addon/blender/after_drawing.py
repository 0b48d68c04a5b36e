"""What is noticed when a view is drawn, and done right after: nothing may be written while a view is being drawn."""

from __future__ import annotations

import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import bpy


@dataclass
class AfterDrawing:
    """Where a view is drawn and something ``is_due``, ``do`` it as soon as the drawing is over."""

    is_due: Callable[[], bool]
    do: Callable[[], None]
    handle: Any = None

    def begin(self) -> None:
        self.handle = bpy.types.SpaceView3D.draw_handler_add(self._drawn, (), "WINDOW", "PRE_VIEW")

    def end(self) -> None:
        if bpy.app.timers.is_registered(self.do):
            bpy.app.timers.unregister(self.do)
        if self.handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self.handle, "WINDOW")
            self.handle = None

    def _drawn(self) -> None:
        try:
            if self.is_due() and not bpy.app.timers.is_registered(self.do):
                bpy.app.timers.register(self.do, first_interval=0.0)
        except Exception:
            traceback.print_exc()
            self.end()  # else it would fail at every drawing
