"""Finished shapes and line-ups: from the scene to what the child is asked, and back."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zipfile import BadZipFile

import bpy
import numpy as np

from ..names import ids
from ..plan.job import laid_out, mesh_names
from ..scene.basis import objects_of
from ..scene.scene_meshes import MeshArrays, SceneError, mesh_arrays, mm_per_unit
from .running import Child

Objects = list[bpy.types.Object]


@dataclass(frozen=True)
class Role:
    """Meshes that play one part in the request, mm in one of their units, and whether their marks go with them."""

    meshes: tuple[MeshArrays, ...]
    mm: float
    marked: bool = False


@dataclass(frozen=True)
class AskedShape:
    """A prepared child, the scene that asks, and what was asked."""

    child: Child
    scene: str
    roles: Mapping[str, Role]


@dataclass(frozen=True)
class PreparedShape:
    """All that the scene has to say; from here on no part of Blender is needed."""

    scene: str
    roles: Mapping[str, Role]
    figures: Mapping[str, object]

    def lay_out(self) -> AskedShape:
        """A child with everything laid out for it, not started yet; may run in a thread of its own."""
        names = {name: mesh_names(name, len(role.meshes)) for name, role in self.roles.items()}
        roles = ((name, role.meshes, role.mm, role.marked) for name, role in self.roles.items())
        return AskedShape(laid_out({**names, **self.figures}, roles), self.scene, self.roles)


def prepared(
    context: bpy.types.Context, kind: str, roles: Mapping[str, tuple[Objects, str]], marked: str = "",
    group: str = ids.DAMAGE, **figures: object,
) -> PreparedShape:
    """What a kind of request needs; ``roles``: objects and their unit; ``marked``: the role whose ``group`` goes along,
    if any of its objects has it."""
    scene, depsgraph = context.scene, context.evaluated_depsgraph_get()
    found = {}
    if marked and not any(group in obj.vertex_groups for obj in roles[marked][0]):
        marked = ""
    for name, (objects, unit) in roles.items():
        gone = [obj.name for obj in objects if scene not in obj.users_scene]
        if gone:
            raise SceneError(f"{gone[0]} is not in this scene any more; choose another, or undo")
        meshes = tuple(mesh_arrays(obj, depsgraph, name == marked, group) for obj in objects)
        found[name] = Role(meshes, mm_per_unit(scene, unit), name == marked)
    return PreparedShape(scene.name, found, {"kind": kind, "marked": bool(marked), **figures})


def located_by(own: Any) -> list[str]:
    """What is to hold a fit along itself, by core's names."""
    return [name for name, wanted in (("holes", own.shaping.by_holes), ("rims", own.shaping.by_rims)) if wanted]


def panel_role(own: Any) -> tuple[Objects, str]:
    """The panel's objects and their unit."""
    return objects_of(own.panel, own.panel_collection, "panel"), own.panel_unit


def target_role(own: Any) -> tuple[Objects, str]:
    """The finished shape's objects and their unit."""
    return objects_of(own.target, own.target_collection, "finished shape"), own.target_unit


def first_shape(own: Any) -> tuple[Objects, str]:
    """As `target_role`, but where it was itself set in or moved out, the shape that it was made from."""
    source = first_source(own)
    if isinstance(source, bpy.types.Collection):
        return objects_of(None, source, "finished shape"), own.target_unit
    return objects_of(source, None, "finished shape"), own.target_unit


def first_source(own: Any) -> Any:
    """The object or collection of `first_shape`."""
    if own.target_collection is not None or own.target is None:
        return own.target_collection
    source = own.target.get(ids.SHAPE_FROM)
    is_there = isinstance(source, bpy.types.Collection) or (
        isinstance(source, bpy.types.Object) and own.id_data in source.users_scene)
    return source if is_there else own.target


def answered(asked: AskedShape) -> tuple[bpy.types.Scene, dict[str, Any], dict[str, Any]]:
    """The scene that asked, the figures, and by name the arrays of the new shape and of a map, where there are any."""
    scene = bpy.data.scenes.get(asked.scene)
    if scene is None:
        raise SceneError(f"the scene {asked.scene} is gone, so the answer has no place; try again")
    folder = asked.child.folder
    try:
        figures = json.loads((folder / "answer.json").read_text(encoding="utf-8"))
        if not (folder / "answer.npz").exists():
            return scene, figures, {}
        with np.load(folder / "answer.npz") as arrays:
            return scene, figures, dict(arrays)
    except (OSError, ValueError, BadZipFile) as error:
        raise SceneError(f"the work left no answer that can be read ({error}); try again") from error
