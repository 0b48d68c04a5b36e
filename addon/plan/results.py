"""A plan's answer put into the scene: attributes beside the geometry, or, where that can't be, a map object."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

import bpy

from ..map import fill_map, map_write
from ..names import ids
from ..scene.scene_meshes import MeshArrays
from ..state import open_steps


def put(scene: bpy.types.Scene, record: dict[str, Any], found: dict[str, Any], panel: tuple[MeshArrays, ...]) -> str:
    """Keep ``record`` on ``scene``, write depth, area and colour onto the panel; what was done, in one sentence."""
    carriers, start = map_write.carriers(scene, panel, ids.MAP), 0
    for obj, mesh in zip(carriers, panel, strict=True):
        part = slice(start, start + len(mesh.vertices))
        start = part.stop
        _write(obj.data, *(found[name][part] for name in ("depth_mm", "area", "colour")))
    _keep(scene, record, carriers)
    fill_map.planned(scene, found, carriers)
    areas = len(record["areas"])
    return f"Planned: {areas} area{'' if areas == 1 else 's'} to work on"


def _write(mesh: bpy.types.Mesh, depth: Any, area: Any, colour: Any) -> None:
    map_write.write(mesh, ids.DEPTH, depth)
    map_write.write(mesh, ids.AREA, area, "INT")
    map_write.put_colours(mesh, ids.COLOUR, colour)


def _keep(scene: bpy.types.Scene, record: dict[str, Any], carriers: list[bpy.types.Object]) -> None:
    own = scene.fillwright
    if not own.plan_id:
        open_steps.planned(own)
    own.record = json.dumps({**record, "carriers": [obj.name for obj in carriers]})
    own.plan_id = uuid4().hex
    own.out_of_date = False
    own.carriers.clear()
    for obj in carriers:
        own.carriers.add().obj = obj
        obj.data[ids.PLANNED] = own.plan_id
    own.areas.clear()
    for area in record["areas"]:
        item = own.areas.add()
        item.name = f"{area['kind'].capitalize()} {area['number']}"
        for field in ("kind", "depth_max_mm", "area_mm2", "volume_mm3", "volume_u95_mm3", "minimum_overbuild_mm",
                      "passes", "deepest_point_mm"):
            setattr(item, field, area[field])
