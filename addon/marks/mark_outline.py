"""What is marked, shown by a line around it: an object of edges that follows the marked one."""

from __future__ import annotations

import bpy
import numpy as np

from ...core.map.mark_outline import mark_outline
from ..blender.made import replace_lines_object
from ..scene.scene_meshes import mesh_arrays


def show_outline(context: bpy.types.Context, objects: list[bpy.types.Object], name: str) -> None:
    """Draw around the vertices of the group ``name`` on each of the objects, instead of what was drawn before."""
    depsgraph = context.evaluated_depsgraph_get()
    for obj in objects:
        seen = mesh_arrays(obj, depsgraph, True, name)
        marked = np.zeros(len(seen.vertices), dtype=bool) if seen.marks is None else seen.marks
        used, edges = mark_outline(seen.triangles, marked)
        line = replace_lines_object(context.scene, f"{name} on {obj.name}", seen.vertices[used], edges)
        line.parent, line.hide_select, line.show_in_front = obj, True, True
