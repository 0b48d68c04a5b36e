"""From the scene to what the child is asked, and from its answer back to the scene."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import bpy

from ..core.bench.hand import HANDS, SCANNERS
from . import results
from .running import Child
from .scene_meshes import MeshArrays, SceneError, mesh_arrays, mm_per_unit, save
from .state import FillwrightScene, materials_file


@dataclass(frozen=True)
class Asked:
    """A prepared child and the panel's meshes in the order that its answer follows: names and vertex counts."""

    child: Child
    panel: tuple[MeshArrays, ...]


def objects_of(obj: bpy.types.Object | None, collection: bpy.types.Collection | None, what: str) -> list[bpy.types.Object]:
    """The mesh objects chosen: a collection's, or the one object."""
    if collection is not None:
        found = [o for o in collection.all_objects if o.type == "MESH" and not o.get("fillwright_result")]
        if not found:
            raise SceneError(f"the collection {collection.name} holds no mesh; choose the one with {what}")
        return found
    if obj is None:
        raise SceneError(f"no {what} is chosen; choose it under Set Out or Finished Shape")
    return [obj]


def ask(context: bpy.types.Context) -> Asked:
    """A child with the scene's meshes and settings laid out for it, not started yet."""
    own: FillwrightScene = context.scene.fillwright
    panel = objects_of(own.panel, own.panel_collection, "panel")
    target = objects_of(own.target, own.target_collection, "finished shape")
    if set(panel) & set(target):
        raise SceneError("the same object is chosen as panel and as finished shape; choose the scan and the shape")
    depsgraph = context.evaluated_depsgraph_get()
    meshes = tuple(mesh_arrays(obj, depsgraph) for obj in panel)
    if own.use_work_area and all(mesh.work_area is None for mesh in meshes):
        raise SceneError("Work Area Only is on, but the panel has no vertex group Work Area; mark one, or turn it off")
    child = Child()
    try:
        _lay_out(child.folder, "panel", meshes, mm_per_unit(context.scene, own.panel_unit), own.use_work_area)
        shapes = tuple(mesh_arrays(obj, depsgraph) for obj in target)
        _lay_out(child.folder, "target", shapes, mm_per_unit(context.scene, own.target_unit), False)
        (child.folder / "request.json").write_text(json.dumps(_request(own, len(meshes), len(shapes))), encoding="utf-8")
    except Exception:
        child.clear()
        raise
    return Asked(child, meshes)


def _lay_out(folder: Path, role: str, meshes: tuple[MeshArrays, ...], mm: float, with_work_area: bool) -> None:
    for k, mesh in enumerate(meshes):
        save(mesh, folder / f"{role}-{k}.npz", mm, with_work_area)


def _request(own: FillwrightScene, panels: int, targets: int) -> dict[str, object]:
    return {
        "panel": [f"panel-{k}" for k in range(panels)],
        "target": [f"target-{k}" for k in range(targets)],
        "settings": settings_of(own),
        "material": own.material,
        "materials": materials_file() or None,
        "work_area": own.use_work_area,
    }


def settings_of(own: FillwrightScene) -> dict[str, object]:
    """The scene's settings by core's names."""
    return {
        "material": own.material,
        "true_mm": own.true_mm,
        "reach_mm": own.reach_mm,
        "risk": own.risk,
        "finish_mm": own.paint_mm if own.painted == "PAINTED" else 0.0,
        "lay_correlation_mm": own.lay_correlation_mm,
        **HANDS[own.hand].figures,
        **SCANNERS[own.scanner].figures,
    }


def take(context: bpy.types.Context, asked: Asked) -> str:
    """Put the child's answer into the scene; one sentence for the status bar."""
    record = json.loads((asked.child.folder / "plan.json").read_text(encoding="utf-8"))
    return results.put(context, record, asked.child.folder / "answer.npz", asked.panel)
