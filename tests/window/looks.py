"""How it looks: light and dark, interface scale 1 to 2, inches, from behind, a map beside the plan's. Pictures to look
at; what can be told without eyes is checked on the way."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import bpy
import hand

Picture = Callable[[str], Iterator[float]]


def looks(picture: Picture) -> Iterator[float]:
    """All of them, of a scene whose plan is shown; everything is given back."""
    bpy.ops.ed.undo_push(message="Before looks")
    for theme in ("Blender_Light", "Blender_Dark"):
        _take_theme(theme)
        for scale in (1.0, 2.0):
            bpy.context.preferences.view.ui_scale = scale
            yield from _settled()
            yield from picture(f"look-{theme[8:].lower()}-{scale:g}")
    bpy.context.preferences.view.ui_scale = 1.0
    yield from _inches(picture)
    yield from _behind(picture)
    yield from _beside_others(picture)


def _settled() -> Iterator[float]:
    """Blender lays its panels out by the drawing before, so that the third one is right."""
    for _ in range(3):
        for area in hand.window().screen.areas:
            area.tag_redraw()
        yield 0.4


def _take_theme(name: str) -> None:
    found = [Path(folder) / f"{name}.xml" for folder in bpy.utils.preset_paths("interface_theme")]
    path = next((str(path) for path in found if path.exists()), "")
    if path:
        bpy.ops.script.execute_preset(filepath=path, menu_idname="USERPREF_MT_interface_theme_presets")
    elif name == "Blender_Dark":
        bpy.ops.preferences.reset_default_theme()


def _inches(picture: Picture) -> Iterator[float]:
    scene = bpy.context.scene
    record, system = scene.fillwright.record, scene.unit_settings.system
    scene.unit_settings.system = "IMPERIAL"
    bpy.ops.fillwright.plan()
    yield from _settled()
    yield from picture("look-inches")
    scene.unit_settings.system = system
    bpy.ops.fillwright.plan()
    assert len(json.loads(scene.fillwright.record)["areas"]) == len(json.loads(record)["areas"])


def _behind(picture: Picture) -> Iterator[float]:
    view: Any = hand.view()[0].spaces.active.region_3d
    was = view.view_rotation.copy()
    view.view_rotation = was @ _turned()
    yield from picture("look-from-behind")
    view.view_rotation = was


def _turned() -> Any:
    from mathutils import Quaternion

    return Quaternion((0.0, 1.0, 0.0), 3.14159)


def _beside_others(picture: Picture) -> Iterator[float]:
    """Blender's own cube beside the panel, while the map is on and after it."""
    panel = bpy.context.scene.fillwright.panel
    for on in (True, False):
        if bpy.context.scene.fillwright.show_map != on:
            bpy.ops.fillwright.fill_map()
        if on:
            bpy.ops.fillwright.fill_map()
            bpy.ops.mesh.primitive_cube_add(size=panel.dimensions.length / 5, location=panel.location)
            bpy.ops.fillwright.fill_map()
        yield from picture(f"look-cube-{'with' if on else 'without'}-map")
    bpy.ops.object.delete()
    bpy.ops.fillwright.fill_map()
