"""A plan from the command line as a Blender file of its own: panel, finished shape, map and contours, ready to open."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.bench.hand import HANDS, TESTED, nearest
from ...core.jobs.folder import take
from ...core.jobs.part import Answer
from ...core.jobs.registry import answered
from ...core.map.views import square_on
from ...core.settings import Settings
from ..blender.made import mesh_from
from ..child.running import Child
from ..map import shading
from ..names import ids
from ..names.plain_settings import PLAIN
from ..picture.sitter import points_of
from ..plan import job
from ..scene import basis
from ..scene.scene_meshes import mesh_arrays

_MM = 0.001  # metres in the file's unit


def build(context: bpy.types.Context, child: Child) -> None:
    """Fill a new, empty file with what ``child`` left in its folder: the meshes and the answer."""
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    scene = bpy.context.scene
    units = scene.unit_settings
    units.system, units.scale_length, units.length_unit = "METRIC", _MM, "MILLIMETERS"
    meshes, record = take(child.folder, "wanted", Answer).arrays, answered(child.folder).record
    low, high = meshes["panel_vertices"].min(axis=0), meshes["panel_vertices"].max(axis=0)
    middle = np.round((low + high) / 2)  # kept by the objects, so that a scan far from the origin loses nothing
    panel = _object(scene, _stem(record["panel"]["file"]), meshes, "panel", middle)
    target = _object(scene, f"{_stem(record['target']['file'])} (finished shape)", meshes, "target", middle)
    if "work_area" in meshes:
        rows = np.flatnonzero(meshes["work_area"]).tolist()
        panel.vertex_groups.new(name=ids.WORK_AREA).add(rows, 1.0, "REPLACE")
    _settings(scene, record["settings"], panel, target, "work_area" in meshes)
    bpy.context.view_layer.update()
    _take(child, scene, panel, target)
    target.hide_set(True)  # it lies in the panel, and would show through the map
    _views(panel)


def _stem(file: str) -> str:
    return Path(file).stem[:40] or "Panel"


def _object(scene: bpy.types.Scene, name: str, meshes: dict[str, Any], role: str, middle: Any) -> bpy.types.Object:
    obj = bpy.data.objects.new(name, mesh_from(name, meshes[f"{role}_vertices"] - middle, meshes[f"{role}_triangles"]))
    obj.location = middle
    scene.collection.objects.link(obj)
    return obj


def _settings(
    scene: bpy.types.Scene, stated: dict[str, Any], panel: bpy.types.Object, target: bpy.types.Object, part: bool
) -> None:
    """The command's settings as the sidebar has them; where it has only kinds, the nearest."""
    own = scene.fillwright
    own.panel, own.target, own.panel_unit, own.target_unit = panel, target, "MM", "MM"
    own.use_work_area = part
    settings = Settings().changed(stated)
    for name in ("surface", *PLAIN):
        setattr(own, name, getattr(settings, name))
    own.painted = "PAINTED" if stated["finish_mm"] > 0 else "BARE"
    own.paint_mm = stated["finish_mm"] if stated["finish_mm"] > 0 else own.paint_mm
    own.hand = nearest(HANDS, "lay_sigma_mm", stated["lay_sigma_mm"])
    if stated["scan_error_mm"] is not None:
        own.tested_error_mm, own.tested_length_mm = stated["scan_error_mm"], stated["scan_error_length_mm"] or 0.0
        own.scanner = TESTED
    with suppress(TypeError):  # one of the user's own, in a file that this Blender isn't told of
        own.material = stated["material"]


def _take(child: Child, scene: bpy.types.Scene, panel: bpy.types.Object, target: bpy.types.Object) -> None:
    """The results, by the same way as those of a plan made in the window."""
    depsgraph = bpy.context.evaluated_depsgraph_get()
    meshes = (mesh_arrays(panel, depsgraph, scene.fillwright.use_work_area),)
    shapes = (mesh_arrays(target, depsgraph, False),)
    made_from = basis.made_from((*meshes, *shapes))
    asked = job.AskedPlan(child, None, scene.name, {"panel": meshes}, basis.made_with(scene), made_from, 1.0)
    job.take(bpy.context, asked)


def _views(panel: bpy.types.Object) -> None:
    """Every 3D view shows the map, square on and whole."""
    points, normals, _ = points_of(panel.data)
    front = square_on(points, normals, 1.0)
    axes = Matrix([*zip(front.right, front.up, front.toward, strict=True)])
    size = float(np.linalg.norm(np.ptp(points, axis=0)))
    spaces = (area.spaces.active for screen in bpy.data.screens for area in screen.areas if area.type == "VIEW_3D")
    for space in spaces:
        space.shading.type = "SOLID"
        for name, value in shading.MAP_SHADING.items():
            setattr(space.shading, name, value)
        space.clip_start, space.clip_end = size / 1000, 100 * size
        overlay = space.overlay
        overlay.show_floor = overlay.show_axis_x = overlay.show_axis_y = overlay.show_cursor = False
        region = space.region_3d
        region.view_perspective, region.view_rotation = "ORTHO", axes.to_quaternion()
        region.view_location, region.view_distance = panel.matrix_world @ Vector(front.eye), size
