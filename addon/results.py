"""A plan's answer put into the scene: attributes beside the geometry, or, where that can't be, a map object."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import bpy
import numpy as np
from mathutils import Matrix

from . import ids
from .choices import shop_unit
from .scene_meshes import MeshArrays, object_of


def put(scene: bpy.types.Scene, record: dict[str, Any], found: dict[str, Any], panel: tuple[MeshArrays, ...]) -> str:
    """Keep ``record`` on ``scene``, write depth, area and colour onto the panel; what was done, in one sentence."""
    from . import fill_map  # which writes with this module's own functions

    carriers = []
    start = 0
    for mesh in panel:
        part = slice(start, start + len(mesh.vertices))
        start = part.stop
        obj = object_of(mesh)
        carrier = obj if obj is not None and _can_carry(obj, mesh) else _map_object(scene, mesh)
        _write(carrier.data, found["depth_mm"][part], found["area"][part], record, shop_unit(scene))
        carriers.append(carrier)
    _keep(scene, record, carriers)
    fill_map.planned(scene, found, carriers)
    areas = len(record["areas"])
    return f"Planned: {areas} area{'' if areas == 1 else 's'} to work on"


def _can_carry(obj: bpy.types.Object, mesh: MeshArrays) -> bool:
    """Whether the object's own mesh may hold the attributes: its own, alone, and with the points that were judged."""
    data = obj.data
    alone = data.users - int(data.use_fake_user) == 1
    now = (len(data.vertices), len(data.polygons))
    return (obj.mode != "EDIT" and data.library is None and obj.library is None and data.override_library is None
            and alone and now == mesh.own_counts == (len(mesh.vertices), mesh.faces))


def _write(mesh: bpy.types.Mesh, depth: Any, area: Any, record: dict[str, Any], unit: str) -> None:
    from ..core.paper.legend import colours, legend

    settings = record["settings"]
    key = legend(settings["true_mm"], record["material"]["greatest_depth_mm"], unit)
    rgba = np.ones((len(depth), 4), dtype=np.float32)
    rgba[:, :3] = linear(colours(depth, key) / np.float32(255))
    _attribute(mesh, ids.DEPTH, "FLOAT").data.foreach_set("value", np.ascontiguousarray(depth, dtype=np.float32))
    _attribute(mesh, ids.AREA, "INT").data.foreach_set("value", np.ascontiguousarray(area, dtype=np.int32))
    _attribute(mesh, ids.COLOUR, "FLOAT_COLOR").data.foreach_set("color", rgba.ravel())
    mesh.update()


def _attribute(mesh: bpy.types.Mesh, name: str, kind: str) -> bpy.types.Attribute:
    old = mesh.attributes.get(name)
    if old is not None and (old.domain != "POINT" or old.data_type != kind):
        mesh.attributes.remove(old)
        old = None
    return old or mesh.attributes.new(name, kind, "POINT")


def linear(srgb: Any) -> Any:
    """Display colours as the scene-linear ones that a colour attribute holds (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def collection(context: bpy.types.Context) -> bpy.types.Collection:
    """The collection that holds what Fillwright makes."""
    return _collection(context.scene)


def _collection(scene: bpy.types.Scene) -> bpy.types.Collection:
    made = bpy.data.collections.get((ids.COLLECTION, None)) or bpy.data.collections.new(ids.COLLECTION)
    if made not in scene.collection.children_recursive:
        scene.collection.children.link(made)
    return made


def replace_mesh_object(
    context: bpy.types.Context, name: str, vertices: Any, triangles: Any, matrix: Any = None
) -> bpy.types.Object:
    """A mesh object of ours, made anew in our collection under ``name``."""
    return _replace(context.scene, name, vertices, triangles, matrix)


def _replace(scene: bpy.types.Scene, name: str, vertices: Any, triangles: Any, matrix: Any) -> bpy.types.Object:
    name = name[:60]  # Blender cuts names at 63
    mesh = mesh_from(name, vertices, triangles)
    obj = bpy.data.objects.get((name, None))
    if obj is None or not obj.get(ids.RESULT) or obj.mode == "EDIT":
        obj = bpy.data.objects.new(name, mesh)
        obj[ids.RESULT] = True
        _collection(scene).objects.link(obj)
    else:
        old, obj.data = obj.data, mesh
        if old.users == 0:
            bpy.data.meshes.remove(old)
    if matrix is not None:
        obj.matrix_world = Matrix([list(map(float, row)) for row in matrix])  # plain lists would be taken as columns
    return obj


def mesh_from(name: str, vertices: Any, triangles: Any) -> bpy.types.Mesh:
    """A Blender mesh from arrays (k, 3) and (m, 3), whose triangles have three different corners each.

    Through attributes, and without validate(): that is eight times faster, and every triangle stays in its place.
    """
    mesh = bpy.data.meshes.new(name)
    count = len(triangles)
    if len(vertices) == 0:
        return mesh
    mesh.vertices.add(len(vertices))
    mesh.attributes["position"].data.foreach_set("vector", np.ascontiguousarray(vertices, dtype=np.float32).ravel())
    if count:
        mesh.loops.add(3 * count)
        corners = np.ascontiguousarray(triangles, dtype=np.int32).ravel()
        mesh.attributes[".corner_vert"].data.foreach_set("value", corners)
        mesh.polygons.add(count)
        mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * count, 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    return mesh


def _map_object(scene: bpy.types.Scene, mesh: MeshArrays) -> bpy.types.Object:
    return _replace(scene, f"{ids.MAP} {mesh.name}", mesh.vertices, mesh.triangles, mesh.matrix)


def _keep(scene: bpy.types.Scene, record: dict[str, Any], carriers: list[bpy.types.Object]) -> None:
    own = scene.fillwright
    own.record = json.dumps({**record, "carriers": [obj.name for obj in carriers]})
    own.plan_id = uuid4().hex
    own.out_of_date = False
    own.carriers.clear()
    for obj in carriers:
        own.carriers.add().obj = obj
    own.areas.clear()
    for area in record["areas"]:
        item = own.areas.add()
        item.name = f"{area['kind'].capitalize()} {area['number']}"
        for field in ("kind", "depth_max_mm", "area_mm2", "volume_mm3", "volume_u95_mm3", "minimum_overbuild_mm",
                      "passes", "deepest_point_mm"):
            setattr(item, field, area[field])
