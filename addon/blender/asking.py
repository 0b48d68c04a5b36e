"""While an operator asks for clicks: its cursor, its words in the status bar, and both given back."""

from __future__ import annotations

import bpy


def begin(context: bpy.types.Context, operator: bpy.types.Operator, text: str) -> set[str]:
    """Have the operator hear of every event, with ``text`` in the status bar; what its invoke() returns."""
    context.window.cursor_modal_set("CROSSHAIR")
    context.workspace.status_text_set(text)
    context.window_manager.modal_handler_add(operator)
    return {"RUNNING_MODAL"}


def end(context: bpy.types.Context) -> None:
    """Give back cursor and status bar, also where a window or workspace is gone meanwhile."""
    if context.window is not None:
        context.window.cursor_modal_restore()
    if context.workspace is not None:
        context.workspace.status_text_set(None)
    if context.area is not None:
        context.area.tag_redraw()
