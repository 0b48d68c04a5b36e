"""From the scene to what the child is asked, and from its answer back to the scene."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from zipfile import BadZipFile

import bpy
import numpy as np

from ..child.running import Child
from ..names.choices import materials_file, shop_unit
from ..scene import staleness
from ..scene.basis import chosen, made_from, made_with, settings_of
from ..scene.lined_up import placing
from ..scene.scene_meshes import MeshArrays, SceneError, mesh_arrays, mm_per_unit, save
from ..state.scene_state import FillwrightScene
from . import results

NO_WORK_AREA = "Work Area Only is on, but the panel has no vertex group Work Area; mark one, or turn it off"


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
        request = {**self.request, "target_id": made_from(self.target)}
        child = laid_out(request, (
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
        raise SceneError(NO_WORK_AREA)
    units = mm_per_unit(scene, own.panel_unit), mm_per_unit(scene, own.target_unit)
    return Prepared(scene.name, meshes, shapes, units, made_with(scene), _request(own, len(meshes), len(shapes)))


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
        "placing": placing(own),
        "before": json.loads(own.record) if own.record else None,
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
