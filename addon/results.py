"""A plan's answer put into the scene: attributes beside the geometry, or, where that can't be, a map object."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import bpy
import numpy as np

from . import fill_map, ids
from .choices import shop_unit
from .made import linear, replace_mesh_object
from .scene_meshes import MeshArrays, object_of


def put(scene: bpy.types.Scene, record: dict[str, Any], found: dict[str, Any], panel: tuple[MeshArrays, ...]) -> str:
    """Keep ``record`` on ``scene``, write depth, area and colour onto the panel; what was done, in one sentence."""
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


def _map_object(scene: bpy.types.Scene, mesh: MeshArrays) -> bpy.types.Object:
    return replace_mesh_object(scene, f"{ids.MAP} {mesh.name}", mesh.vertices, mesh.triangles, mesh.matrix)


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
