"""The views' shading while the map is on, and the user's own given back.

Undo leaves views alone but turns back the scene; so the user's shading is kept on the screen, which undo leaves alone
too and which is saved with the file, and the views are made to follow the scene after every undo.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import bpy

_KEPT = "fillwright_shading"  # on a screen: the user's shading of each of its 3D views
MAP_SHADING: dict[str, Any] = {
    "type": "SOLID", "light": "FLAT", "color_type": "VERTEX", "show_cavity": False, "show_shadows": False,
    "show_xray": False, "show_object_outline": False,
}
MAP_OVERLAY: dict[str, Any] = {  # else Blender's floor cuts through a panel that dips below it
    "show_floor": False, "show_axis_x": False, "show_axis_y": False,
}
_MAP = {**MAP_SHADING, **MAP_OVERLAY}


def is_map(space: bpy.types.SpaceView3D) -> bool:
    """Whether a view shows the map's colours."""
    shading = space.shading
    return shading.type == "SOLID" and shading.light == "FLAT" and shading.color_type == "VERTEX"


def follow_scenes() -> None:
    """Shade the views of every open window as their scenes want it: for the map, or as the user had it.

    What the user changes while the map is on stays as it is until the map goes.
    """
    for scene, screen in _open_screens():
        if not scene.fillwright.show_map:
            _give_back(screen)
        elif _KEPT not in screen:
            _take(screen)


def give_back_all() -> None:
    """Give the user's shading back everywhere: the extension goes."""
    for screen in getattr(bpy.data, "screens", ()):  # not there while Blender registers extensions
        _give_back(screen)


def _open_screens() -> Iterator[tuple[bpy.types.Scene, bpy.types.Screen]]:
    for window in bpy.context.window_manager.windows:
        if window.screen is not None and window.scene is not None:
            yield window.scene, window.screen


def _views(screen: bpy.types.Screen) -> list[bpy.types.SpaceView3D]:
    return [area.spaces.active for area in screen.areas if area.type == "VIEW_3D"]


def _take(screen: bpy.types.Screen) -> None:
    spaces = _views(screen)
    screen[_KEPT] = json.dumps([_read(space) for space in spaces])
    for space in spaces:
        _write(space, _MAP)
    _redraw(screen)


def _give_back(screen: bpy.types.Screen) -> None:
    """Every view gets its own back, but for what the user has changed since; where views were split or joined since,
    each gets the first one's."""
    if _KEPT not in screen:
        return
    before, spaces = json.loads(screen[_KEPT]), _views(screen)
    for k, space in enumerate(spaces if before else []):
        own, now = before[k if len(before) == len(spaces) else 0], _read(space)
        _write(space, {name: own[name] if now[name] == ours else now[name] for name, ours in _MAP.items()})
    del screen[_KEPT]
    _redraw(screen)


def _read(space: bpy.types.SpaceView3D) -> dict[str, Any]:
    """What the map replaces. Light and colour are those of Solid, whatever the view shows now."""
    shading = space.shading
    kind, shading.type = shading.type, "SOLID"
    found = {name: getattr(shading, name) for name in MAP_SHADING}
    shading.type = kind
    return {**found, "type": kind, **{name: getattr(space.overlay, name) for name in MAP_OVERLAY}}


def _write(space: bpy.types.SpaceView3D, wanted: dict[str, Any]) -> None:
    """Light and colour can be set in Solid only, so the type comes last."""
    shading = space.shading
    shading.type = "SOLID"
    for name, value in wanted.items():
        if name != "type":
            setattr(space.overlay if name in MAP_OVERLAY else shading, name, value)
    shading.type = wanted["type"]


def _redraw(screen: bpy.types.Screen) -> None:
    for area in screen.areas:
        if area.type == "VIEW_3D":
            area.tag_redraw()
