"""From the scene to what the child is asked, and from its answer back to the scene."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from zipfile import BadZipFile

import bpy
import numpy as np

from ..core.bench.hand import HANDS, SCANNERS
from . import ids, results, staleness
from .choices import materials_file, shop_unit
from .running import Child
from .scene_meshes import MeshArrays, SceneError, fingerprint, mesh_arrays, mm_per_unit, save
from .state import FillwrightScene


@dataclass(frozen=True)
class Asked:
    """A prepared child, the scene that asks, the panel's meshes in the order that the answer follows, and what the plan
    is made with and made from, so that it can be told later whether it still holds."""

    child: Child
    scene: str
    panel: tuple[MeshArrays, ...]
    mm_per_unit: float
    made_with: str
    made_from: str


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


@dataclass(frozen=True)
class Prepared:
    """All that the scene has to say; from here on no part of Blender is needed."""

    scene: str
    panel: tuple[MeshArrays, ...]
    target: tuple[MeshArrays, ...]
    mm_per_unit: tuple[float, float]
    made_with: str
    request: dict[str, object]

    def lay_out(self) -> Asked:
        """A child with everything laid out for it, not started yet; may run in a thread of its own."""
        with_area = bool(self.request["work_area"])
        child = laid_out(self.request, (
            ("panel", self.panel, self.mm_per_unit[0], with_area), ("target", self.target, self.mm_per_unit[1], False),
        ))
        whole = made_from((*self.panel, *self.target))
        return Asked(child, self.scene, self.panel, self.mm_per_unit[0], self.made_with, whole)


def prepare(context: bpy.types.Context) -> Prepared:
    """The scene's meshes and settings, or SceneError where there is something for the user to put right."""
    scene = context.scene
    own: FillwrightScene = scene.fillwright
    panel, target = chosen(own)
    depsgraph = context.evaluated_depsgraph_get()
    meshes = tuple(mesh_arrays(obj, depsgraph, own.use_work_area) for obj in panel)
    shapes = tuple(mesh_arrays(obj, depsgraph, False) for obj in target)
    if own.use_work_area and all(mesh.work_area is None for mesh in meshes):
        raise SceneError("Work Area Only is on, but the panel has no vertex group Work Area; mark one, or turn it off")
    units = mm_per_unit(scene, own.panel_unit), mm_per_unit(scene, own.target_unit)
    return Prepared(scene.name, meshes, shapes, units, made_with(scene), _request(own, len(meshes), len(shapes)))


def chosen(own: FillwrightScene) -> tuple[list[bpy.types.Object], list[bpy.types.Object]]:
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
    return json.dumps([settings_of(own), own.use_work_area, [round(unit, 9) for unit in units]])


def made_from(meshes: tuple[MeshArrays, ...]) -> str:
    """The meshes of panel and shape as a text to compare."""
    return "; ".join(fingerprint(mesh) for mesh in meshes)


def laid_out(request: dict[str, object], roles: Iterable[tuple[str, tuple[MeshArrays, ...], float, bool]]) -> Child:
    """A child with the request and its meshes: role, meshes, mm in a unit, and whether their marks go along."""
    child = Child()
    try:
        for role, meshes, mm, with_work_area in roles:
            for name, mesh in zip(mesh_names(role, len(meshes)), meshes, strict=True):
                save(mesh, child.folder / f"{name}.npz", mm, with_work_area)
        (child.folder / "request.json").write_text(json.dumps(request), encoding="utf-8")
    except OSError as error:
        child.clear()
        why = error.strerror or error
        raise SceneError(f"the temporary folder can't be written ({why}); make room, then try again") from error
    except Exception:
        child.clear()
        raise
    return child


def mesh_names(role: str, count: int) -> list[str]:
    """Under which names a role's meshes are laid out."""
    return [f"{role}-{k}" for k in range(count)]


def _request(own: FillwrightScene, panels: int, targets: int) -> dict[str, object]:
    return {
        "panel": mesh_names("panel", panels),
        "target": mesh_names("target", targets),
        "settings": settings_of(own),
        "material": own.material,
        "materials": materials_file() or None,
        "work_area": own.use_work_area,
        "unit": shop_unit(own.id_data),
    }


def settings_of(own: FillwrightScene) -> dict[str, object]:
    """The scene's settings by core's names."""
    return {
        "material": own.material,
        "true_mm": own.true_mm,
        "reach_mm": own.reach_mm,
        "risk": own.risk,
        "line_up_uncertainty_mm": own.line_up_uncertainty_mm,
        "finish_mm": own.paint_mm if own.painted == "PAINTED" else 0.0,
        "lay_correlation_mm": own.lay_correlation_mm,
        **HANDS[own.hand].figures,
        **SCANNERS[own.scanner].figures,
    }


def take(context: bpy.types.Context, asked: Asked) -> str:
    """Put the child's answer into the scene that asked; one sentence for the status bar."""
    scene = bpy.data.scenes.get(asked.scene)
    if scene is None:
        raise SceneError(f"the scene {asked.scene} is gone, so the plan has no place; plan again")
    try:
        record = json.loads((asked.child.folder / "plan.json").read_text(encoding="utf-8"))
        with np.load(asked.child.folder / "answer.npz") as arrays:
            found = {name: arrays[name] for name in arrays.files}
    except (OSError, ValueError, BadZipFile) as error:
        raise SceneError(f"the work left no answer that can be read ({error}); plan again") from error
    said = results.put(scene, record, found, asked.panel)
    own = scene.fillwright
    own.made_with, own.made_from, own.planned_mm_per_unit = asked.made_with, asked.made_from, asked.mm_per_unit
    staleness.look_again(scene, context.evaluated_depsgraph_get())
    return said
