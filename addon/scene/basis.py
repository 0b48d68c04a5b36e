"""What a plan is made from and with: the objects chosen, and the settings by core's names."""

from __future__ import annotations

import json
from typing import Any

import bpy

from ...core.bench.hand import HANDS, SCANNERS
from ..names import ids
from .lined_up import placing
from .scene_meshes import MeshArrays, SceneError, fingerprint, mm_per_unit


def objects_of(
    obj: bpy.types.Object | None, collection: bpy.types.Collection | None, what: str
) -> list[bpy.types.Object]:
    """The mesh objects chosen: a collection's, or the one object."""
    if collection is not None:
        found = [o for o in collection.all_objects if o.type == "MESH" and not o.get(ids.RESULT)]
        if not found:
            raise SceneError(f"the collection {collection.name} holds no mesh; choose the one with {what}")
        return found
    if obj is None:
        raise SceneError(f"no {what} is chosen; choose it under Set Out or Finished Shape")
    return [obj]


def chosen(own: Any) -> tuple[list[bpy.types.Object], list[bpy.types.Object]]:
    """The panel's objects and the finished shape's."""
    panel = objects_of(own.panel, own.panel_collection, "panel")
    target = objects_of(own.target, own.target_collection, "finished shape")
    if set(panel) & set(target):
        raise SceneError("the same object is chosen as panel and as finished shape; choose the scan and the shape")
    gone = [obj.name for obj in (*panel, *target) if own.id_data not in obj.users_scene]
    if gone:
        raise SceneError(f"{gone[0]} is not in this scene any more; choose another, or undo")
    return panel, target


def made_with(scene: bpy.types.Scene) -> str:
    """The scene's settings as a text to compare."""
    own = scene.fillwright
    units = [mm_per_unit(scene, own.panel_unit), mm_per_unit(scene, own.target_unit)]
    return json.dumps([settings_of(own), own.use_work_area, [round(unit, 9) for unit in units], placing(own)])


def made_from(meshes: tuple[MeshArrays, ...]) -> str:
    """The meshes of panel and shape as a text to compare."""
    return "; ".join(fingerprint(mesh) for mesh in meshes)


def settings_of(own: Any) -> dict[str, object]:
    """The scene's settings by core's names."""
    return {
        "material": own.material,
        "surface": own.surface,
        "true_mm": own.true_mm,
        "reach_mm": own.reach_mm,
        "risk": own.risk,
        "reserve_share": own.reserve_share,
        "line_up_uncertainty_mm": own.line_up_uncertainty_mm,
        "finish_mm": own.paint_mm if own.painted == "PAINTED" else 0.0,
        "bump_spacing_mm": own.bump_spacing_mm,
        **HANDS[own.hand].figures,
        **SCANNERS[own.scanner].figures,
    }
