"""The fill of the last plan as an object. It is made with the plan and kept hidden until asked for."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.legend.legend_section import FRESH
from ..blender.made import mesh_from
from ..names import ids
from .on_panel import material, put_on


def put(scene: bpy.types.Scene, arrays: dict[str, Any], panel: bpy.types.Object | None) -> bpy.types.Object:
    """The fill of a plan's answer as our object, closed shells, one for each low, with their areas' places."""
    mesh = mesh_from(ids.FILL, arrays["fill_vertices"], arrays["fill_triangles"])
    if len(mesh.polygons):
        mesh.attributes.new(ids.AREA, "INT", "FACE").data.foreach_set("value", arrays["fill_area"].astype("int32"))
    mesh.materials.append(material(ids.FILL, FRESH))
    return put_on(scene, ids.FILL, mesh, FRESH, panel, clickable=True)
