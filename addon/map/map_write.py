"""A map's values and colours as attributes beside the geometry, or, where that can't be, on a map object."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ...core.legend.legend import Legend, colours
from ...core.legend.scene_linear import linear
from ..blender.made import replace_mesh_object
from ..scene.scene_meshes import MeshArrays, object_of
from .on_panel import follow


def carriers(scene: bpy.types.Scene, meshes: tuple[MeshArrays, ...], name: str) -> list[bpy.types.Object]:
    """For each of the meshes the object that can hold its map; map objects are called ``name`` and the mesh's."""
    found = []
    for mesh in meshes:
        obj = object_of(mesh)
        if obj is not None and _can_carry(obj, mesh):
            found.append(obj)
            continue
        made = replace_mesh_object(scene, f"{name} {mesh.name}", mesh.vertices, mesh.triangles, None)
        follow(made, obj, Matrix(np.array(mesh.matrix, dtype=float).tolist()))
        found.append(made)
    return found


def _can_carry(obj: bpy.types.Object, mesh: MeshArrays) -> bool:
    """Whether the object's own mesh may hold the attributes: its own, alone, and with the points that were judged."""
    data = obj.data
    alone = data.users - int(data.use_fake_user) == 1
    now = (len(data.vertices), len(data.polygons))
    return (obj.mode != "EDIT" and data.library is None and obj.library is None and data.override_library is None
            and alone and now == mesh.own_counts == (len(mesh.vertices), mesh.faces))


def write(mesh: bpy.types.Mesh, name: str, values: Any, kind: str = "FLOAT") -> None:
    """Values (k,), one a vertex, as the attribute ``name``; ``kind`` FLOAT or INT."""
    flat = np.ascontiguousarray(values, dtype=np.int32 if kind == "INT" else np.float32)
    _attribute(mesh, name, kind).data.foreach_set("value", flat)


def put_colours(mesh: bpy.types.Mesh, name: str, colours: Any) -> None:
    """Scene-linear ``colours`` (k, 4) as the colour attribute ``name``."""
    _attribute(mesh, name, "FLOAT_COLOR").data.foreach_set("color", np.ascontiguousarray(colours).ravel())
    mesh.update()


def write_colours(mesh: bpy.types.Mesh, name: str, values_mm: Any, key: Legend) -> None:
    """The colours that ``key`` gives to values (k,) as the colour attribute ``name``."""
    rgba = np.ones((len(values_mm), 4), dtype=np.float32)
    rgba[:, :3] = linear(colours(values_mm, key) / np.float32(255))
    put_colours(mesh, name, rgba)


def _attribute(mesh: bpy.types.Mesh, name: str, kind: str) -> bpy.types.Attribute:
    old = mesh.attributes.get(name)
    if old is not None and (old.domain != "POINT" or old.data_type != kind):
        mesh.attributes.remove(old)
        old = None
    return old or mesh.attributes.new(name, kind, "POINT")
