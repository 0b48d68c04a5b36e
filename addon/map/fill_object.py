"""The fill of the last plan as an object. It is made with the plan and kept hidden until asked for."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.legend.legend_section import FRESH
from ..blender.made import collection, mesh_from
from ..names import ids
from .contour_object import find, follow, material, rgba, show


def put(scene: bpy.types.Scene, arrays: dict[str, Any], panel: bpy.types.Object | None) -> bpy.types.Object:
    """The fill of a plan's answer as our object, closed shells, one for each low, with their areas' places."""
    mesh = mesh_from(ids.FILL, arrays["fill_vertices"], arrays["fill_triangles"])
    if len(mesh.polygons):
        mesh.attributes.new(ids.AREA, "INT", "FACE").data.foreach_set("value", arrays["fill_area"].astype("int32"))
    obj = find(scene, ids.FILL)
    if obj is None or obj.mode == "EDIT":
        obj = bpy.data.objects.new(ids.FILL, mesh)
        obj[ids.RESULT] = True
        collection(scene).objects.link(obj)
        show(obj, False)
    else:
        old, obj.data = obj.data, mesh
        if old.users == 0:
            bpy.data.meshes.remove(old)
    mesh.materials.append(material(ids.FILL, FRESH))
    obj.color = rgba(FRESH)
    follow(obj, panel)
    return obj
