"""A hand on mouse and keyboard inside Blender's window: moves, clicks, keys, and finding a button by what it runs.

Needs Blender started with --enable-event-simulate. Each function is a generator that gives the seconds to wait.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from time import perf_counter
from typing import Any

import bpy

Steps = Iterator[float]
_STILL = 0.04  # seconds for Blender to take an event in


class NotThereError(Exception):
    """What was to be seen or found is not there."""


def window() -> Any:
    return bpy.context.window_manager.windows[0]


def view() -> tuple[Any, Any, Any]:
    """The 3D view: its area, its own region, its sidebar."""
    area = max((a for a in window().screen.areas if a.type == "VIEW_3D"), key=lambda a: a.width * a.height)
    regions = {region.type: region for region in area.regions}
    return area, regions["WINDOW"], regions["UI"]


def move(x: float, y: float) -> Steps:
    window().event_simulate(type="MOUSEMOVE", value="NOTHING", x=int(x), y=int(y))
    yield _STILL


def press(kind: str, x: float, y: float, **held: bool) -> Steps:
    """A key or mouse button down and up again at a place."""
    for value in ("PRESS", "RELEASE"):
        window().event_simulate(type=kind, value=value, x=int(x), y=int(y), **held)
        yield _STILL


def click(x: float, y: float) -> Steps:
    yield from move(x, y)
    yield from press("LEFTMOUSE", x, y)


def until(what: str, seen: Callable[[], bool], seconds: float = 30.0) -> Steps:
    """Wait until something is so; it must become so in time."""
    end = perf_counter() + seconds
    while not seen():
        if perf_counter() > end:
            raise NotThereError(f"waited {seconds:g} s for this: {what}")
        yield 0.02


def free() -> tuple[float, float, float, float]:
    """Left, bottom, width and height of the view where no toolbar, sidebar or header lies over it, in the window."""
    area, region, _ = view()
    module = next(module for name, module in sys.modules.items() if name.endswith(".addon.blender.free_room"))
    left, bottom, width, height = module.free_room(area, region)
    return region.x + left, region.y + bottom, width, height


def free_middle() -> tuple[float, float]:
    left, bottom, width, height = free()
    return left + width / 2, bottom + height / 2


def middle() -> tuple[float, float]:
    """The middle of the view that no sidebar covers."""
    _, region, sidebar = view()
    return region.x + (region.width - sidebar.width) / 2, region.y + region.height / 2


def open_tab(name: str) -> Steps:
    """Open the sidebar with N and click down its tabs until ``name`` is in front."""
    area, _, _ = view()
    if not area.spaces.active.show_region_ui:
        yield from press("N", *middle())
    yield from until("the sidebar is open", lambda: view()[2].width > 50)
    yield 0.3
    _, _, sidebar = view()
    x, y = sidebar.x + sidebar.width - 10, sidebar.y + sidebar.height - 12
    while y > sidebar.y and sidebar.active_panel_category != name:
        yield from click(x, y)
        y -= 14
    if sidebar.active_panel_category != name:
        raise NotThereError(f"the sidebar has no tab {name}")
    yield 0.3


def runs_here() -> str:
    """The Python command of the button under the mouse, or nothing."""
    area, _, sidebar = view()
    with bpy.context.temp_override(window=window(), area=area, region=sidebar):
        if not bpy.ops.ui.copy_python_command_button.poll():
            return ""
        bpy.ops.ui.copy_python_command_button()
    return str(bpy.context.window_manager.clipboard)


def find_button(idname: str) -> Iterator[float]:
    """Move down the sidebar, scrolling, until the mouse is over the button that runs ``idname``. Gives the place."""
    for _page in range(12):
        _, _, sidebar = view()
        x, y = sidebar.x + 0.45 * sidebar.width, sidebar.y + sidebar.height - 8
        while y > sidebar.y + 8:
            yield from move(x, y)
            if runs_here().startswith(f"bpy.ops.{idname}("):
                yield from move(x, y - 4)
                if not runs_here().startswith(f"bpy.ops.{idname}("):
                    yield from move(x, y)
                return (x, y)
            y -= 9
        for share in (0.2, 0.5, 0.8, 0.5, 0.2, 0.8):  # over a list the wheel moves the list
            yield from press("WHEELDOWNMOUSE", x, sidebar.y + share * sidebar.height)
    raise NotThereError(f"no button in the sidebar runs {idname}")


def press_button(idname: str) -> Steps:
    """Find the button and click it."""
    place = yield from find_button(idname)
    yield from press("LEFTMOUSE", *place)
