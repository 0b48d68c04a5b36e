"""The maps: the plan's own, and those of the sides, the old filler and the line-up; one is shown at a time."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import bpy

from ...core.map.map_keys import MAPS, TITLES, map_key
from ..names import ids
from ..names.choices import shop_unit, with_hatch
from ..scene.scene_meshes import MeshArrays
from ..state.scene_state import carriers
from . import map_kept, map_write, on_panel, shading

FILL = "fill"
_LINES = (ids.CONTOURS, ids.CONTOURS_PALE, ids.HATCH, ids.DOTS, ids.DOTS_FAR)
_CHALK = (ids.CHALK, ids.CHALK_NOTES, ids.SMUDGE, ids.SMUDGE_NOTES)
_VALUES = {"good_side": ids.SIDES, "as_was": ids.FILLER, "line_up": ids.HELD}
_COLOURS = {FILL: ids.COLOUR, "good_side": ids.SIDES_COLOUR, "as_was": ids.FILLER_COLOUR, "line_up": ids.HELD_COLOUR}


def put(scene: bpy.types.Scene, kind: str, values_mm: Any, meshes: Iterable[MeshArrays]) -> None:
    """Keep a map of ``kind``, its values (k,) those of the meshes' vertices one after the other."""
    own, meshes = scene.fillwright, tuple(meshes)
    unit, true_mm = shop_unit(scene), own.true_mm
    key, start = map_key(kind, true_mm, unit), 0
    holding = map_write.carriers(scene, meshes, f"{TITLES[kind]} {ids.MAP}")
    for obj, mesh in zip(holding, meshes, strict=True):
        part = values_mm[start : start + len(mesh.vertices)]
        start += len(part)
        map_write.write(obj.data, _VALUES[kind], part)
        map_write.write_colours(obj.data, _COLOURS[kind], part, key)
        if obj.get(ids.RESULT):
            on_panel.show(obj, False)
    entry = own.maps.get(kind) or own.maps.add()
    entry.name, entry.true_mm, entry.unit = kind, true_mm, unit
    entry.carriers.clear()
    for obj in holding:
        entry.carriers.add().obj = obj
    if is_shown(own, kind):
        show(scene, kind)


def holders(scene: bpy.types.Scene, kind: str) -> list[bpy.types.Object]:
    """The objects that hold a map and are still there."""
    if kind == FILL:
        return carriers(scene)
    entry = scene.fillwright.maps.get(kind)
    return [] if entry is None else [one.obj for one in entry.carriers if one.obj is not None]


def is_shown(own: Any, kind: str) -> bool:
    """Whether this map is on."""
    return bool(own.show_map and own.map_kind == kind)


def show(scene: bpy.types.Scene, kind: str) -> None:
    """Show a map, and no other; or, for "", give everything back as the user had it. Does no harm twice."""
    own = scene.fillwright
    map_kept.give_back(scene, own)
    if kind:
        map_kept.take(scene, own, holders(scene, kind), _COLOURS[kind])
        own.map_kind = kind
    own.show_map = bool(kind)
    for name in _LINES:
        obj = on_panel.find(scene, name)
        if obj is not None:
            left_out = name == ids.DOTS_FAR or (name == ids.HATCH and not with_hatch())  # see dots_from_far.py
            on_panel.show(obj, kind == FILL and not left_out)
    for name in _CHALK:  # of the plan: it says nothing of another map
        obj = on_panel.find(scene, name)
        if obj is not None:
            map_kept.hide(scene, obj, kind not in ("", FILL))
    fill = on_panel.find(scene, ids.FILL)
    if fill is not None and kind:
        on_panel.show(fill, False)  # it lies over the map
    for other in (FILL, *MAPS):
        for obj in holders(scene, other):
            if obj.get(ids.RESULT):
                on_panel.show(obj, other == kind)
    shading.follow_scenes()
