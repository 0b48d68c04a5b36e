"""What is marked, shown by a line around it: an object of edges that follows the marked one."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from ..core.paper.mark_outline import mark_outline
from . import ids
from .made import collection
from .scene_meshes import mesh_arrays


def show_outline(context: bpy.types.Context, objects: list[bpy.types.Object], name: str) -> None:
    """Draw around the vertices of the group ``name`` on each of the objects, instead of what was drawn before."""
    depsgraph = context.evaluated_depsgraph_get()
    for obj in objects:
        seen = mesh_arrays(obj, depsgraph, True, name)
        marked = np.zeros(len(seen.vertices), dtype=bool) if seen.work_area is None else seen.work_area
        used, edges = mark_outline(seen.triangles, marked)
        _put(context.scene, obj, f"{name} on {obj.name}"[:60], seen.vertices[used], edges)


def _put(scene: bpy.types.Scene, marked: bpy.types.Object, name: str, points: Any, edges: Any) -> None:
    data = bpy.data.meshes.new(name)
    data.from_pydata(points.tolist(), edges.tolist(), [])
    obj = bpy.data.objects.get((name, None))
    if obj is None or not obj.get(ids.RESULT):
        obj = bpy.data.objects.new(name, data)
        obj[ids.RESULT] = True
        collection(scene).objects.link(obj)
    else:
        old, obj.data = obj.data, data
        bpy.data.meshes.remove(old)
    obj.parent, obj.hide_select, obj.show_in_front = marked, True, True


CLASSES: tuple[type, ...] = ()
