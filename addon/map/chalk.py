"""Chalk It: numbers and rings on the panel; and notes where Read Depth was clicked.

Chalk is white, on a smudge that sets it off from any metal: so say the materials. On the map, where white would be
lost, it is charcoal on the colour of true metal: so say the objects' own colours, which the map's shading shows.
"""

from __future__ import annotations

import zlib
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from ...core.map.chalk import CHALK, CHARCOAL, HALO_ON_MAP, SMUDGE, bands, chalk_height_mm, chalked, note_strokes
from ..blender.made import mesh_from
from ..names import ids
from .on_panel import find, material, put_on, show
from .planned_first import PlannedFirst

_NOTE = 0.7  # of the other letters' height
_MARKS, _NOTES = (ids.CHALK, ids.SMUDGE), (ids.CHALK_NOTES, ids.SMUDGE_NOTES)


def put(scene: bpy.types.Scene, arrays: dict[str, Any], panel: bpy.types.Object | None) -> None:
    """The rings and numbers of a plan's answer: shown, unless those of the plan before were wiped off."""
    before = find(scene, ids.CHALK)
    shown = before is None or not before.hide_viewport
    for name, role in zip(_MARKS, ("chalk", "smudge"), strict=True):
        show(_put(scene, name, arrays[f"{role}_vertices"], arrays[f"{role}_triangles"], panel), shown)


def chalk_note(scene: bpy.types.Scene, holder: bpy.types.Object, words: str, place: Any, right: Any, up: Any) -> None:
    """Chalk a cross at ``place`` (3,) in the world and ``words`` beside it onto the panel's object ``holder``.

    They run along ``right`` and ``up`` (3,): the reader's. Earlier notes stay.
    """
    mm = scene.fillwright.planned_mm_per_unit
    height = _NOTE * chalk_height_mm(float(holder.dimensions.length) * mm) / mm
    rng = np.random.default_rng(zlib.crc32(np.round(place, 6).tobytes()))
    strokes, taken = [], (_chalked(scene) - place) @ np.stack([right, up], axis=1)
    for flat in note_strokes(words, height, rng, taken):
        on, normals = _laid(holder, place + flat[:, :1] * right + flat[:, 1:] * up)
        strokes += chalked(on, normals, height, rng)
    for name, halo in zip(_NOTES, (False, True), strict=True):
        show(_add(scene, name, *bands(strokes, halo), holder), True)


def _chalked(scene: bpy.types.Scene) -> Any:
    """All points (k, 3), in the world, of the chalk that is on the panel and shown."""
    shown = [obj for name in (ids.CHALK, ids.CHALK_NOTES) if (obj := find(scene, name)) and not obj.hide_viewport]
    return np.concatenate([np.empty((0, 3)), *map(_in_the_world, shown)])


def _in_the_world(obj: bpy.types.Object) -> Any:
    points, matrix = np.empty(3 * len(obj.data.vertices), dtype=np.float32), np.array(obj.matrix_world)
    obj.data.vertices.foreach_get("co", points)
    return points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]


def _laid(holder: bpy.types.Object, points: Any) -> tuple[Any, Any]:
    """The nearest points of the panel's surface (k, 3) and the unit normals there, in the world."""
    obj = holder.evaluated_get(bpy.context.evaluated_depsgraph_get())
    inward = obj.matrix_world.inverted()
    turned = inward.to_3x3().transposed()
    found = [obj.closest_point_on_mesh(inward @ Vector(point.tolist())) for point in points]
    on = np.array([obj.matrix_world @ place for _, place, _, _ in found])
    return on, np.array([(turned @ normal).normalized() for _, _, normal, _ in found])


def _add(
    scene: bpy.types.Scene, name: str, vertices: Any, triangles: Any, holder: bpy.types.Object
) -> bpy.types.Object:
    """Put more chalk to what an object of ours holds, where that lies now: its panel may have been moved since."""
    old = find(scene, name)
    if old is not None:
        show(old, True)
        bpy.context.view_layer.update()  # of what is hidden Blender doesn't work out where it is
        corners = np.empty(len(old.data.loops), dtype=np.int32)
        old.data.loops.foreach_get("vertex_index", corners)
        vertices = np.vstack([_in_the_world(old), vertices])
        triangles = np.vstack([corners.reshape(-1, 3), triangles + len(old.data.vertices)])
    return _put(scene, name, vertices, triangles, holder)


def _put(
    scene: bpy.types.Scene, name: str, vertices: Any, triangles: Any, panel: bpy.types.Object | None
) -> bpy.types.Object:
    mesh = mesh_from(name, vertices, triangles)
    is_chalk = name in (ids.CHALK, ids.CHALK_NOTES)
    mesh.materials.append(material(ids.CHALK, CHALK) if is_chalk else material(ids.SMUDGE, SMUDGE))
    return put_on(scene, name, mesh, CHARCOAL if is_chalk else HALO_ON_MAP, panel)


class FILLWRIGHT_OT_chalk_it(PlannedFirst, bpy.types.Operator):
    bl_idname = ids.CHALK_IT
    bl_label = "Chalk It"
    bl_description = "Chalk a ring around each area and its depth beside it onto the panel, or wipe them off"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        chalk = find(context.scene, ids.CHALK)
        if chalk is None:
            self.report({"ERROR"}, "The chalk was deleted; plan again to have it back")
            return {"CANCELLED"}
        shown = chalk.hide_viewport
        for name in (*_MARKS, *_NOTES):
            obj = find(context.scene, name)
            if obj is not None:
                show(obj, shown)
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_chalk_it,)
