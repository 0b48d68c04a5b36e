"""That something is being worked out: the progress bar in the sidebar, the timer that asks, the words about Esc."""

from __future__ import annotations

from typing import Any

import bpy

from ..blender.redraw import redraw_sidebar

WAIT = "Something is being worked out; press Esc to stop it"
_TICK_S = 0.05


def begin(context: bpy.types.Context, operator: bpy.types.Operator, idname: str, what: str) -> bpy.types.Timer:
    """Have ``operator``, whose button is ``idname``, hear of every event and of the timer; "Esc stops the ``what``"."""
    manager: Any = context.window_manager
    manager.fillwright_running, manager.fillwright_what = True, idname
    tell(context, 0.0, "Starting")
    context.workspace.status_text_set(f"Fillwright: Esc stops the {what}")
    manager.modal_handler_add(operator)
    timer: bpy.types.Timer = manager.event_timer_add(_TICK_S, window=context.window)
    return timer


def tell(context: bpy.types.Context, share: float, step: str) -> None:
    """What the bar shows: the ``share`` that is done, and the ``step``."""
    manager: Any = context.window_manager
    shown = round(100 * share)  # in hundredths, as the bar shows it: else the sidebar is drawn again at every tick
    if (round(100 * manager.fillwright_share), manager.fillwright_step) != (shown, step):
        manager.fillwright_share, manager.fillwright_step = shown / 100, step
        redraw_sidebar()


def end(context: bpy.types.Context, timer: bpy.types.Timer | None) -> None:
    """Nothing is worked out any more."""
    manager: Any = context.window_manager
    if timer is not None:
        manager.event_timer_remove(timer)
    manager.fillwright_running = False
    if context.workspace is not None:
        context.workspace.status_text_set(None)


def button(layout: Any, context: bpy.types.Context, idname: str, scale: float = 1.6, **words: Any) -> Any:
    """The operator's large button, whose properties it gives; or its progress while it runs, and None."""
    manager: Any = context.window_manager
    row = layout.row()
    row.scale_y = scale
    if manager.fillwright_running and manager.fillwright_what == idname:
        row.progress(factor=manager.fillwright_share, text=manager.fillwright_step)
        layout.label(text="Press Esc to stop it")
        return None
    return row.operator(idname, **words)
