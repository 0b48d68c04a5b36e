"""From the scene to a job's request, laid out for a child; and the child's answer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from ...core.files.source import Source
from ...core.jobs.part import Answer, Part, Piece
from ...core.jobs.registry import answered, ask, name_of
from ...core.place.locate_by import Locating
from ..scene.chosen import Chosen, check_here
from ..scene.scene_meshes import MeshArrays, SceneError, mesh_arrays, mm_per_unit
from .running import Child

Meshes = tuple[MeshArrays, ...]


@dataclass(frozen=True)
class Gathered:
    """What plays one part, read from the scene: its meshes, and the same as a job's ``part``; ``marks`` of all its
    vertices, or None where nothing is marked."""

    meshes: Meshes
    part: Part
    marks: Any = None

    @property
    def mm(self) -> float:
        """Millimetres in the scene's unit, as it is declared for this part."""
        return self.part.mm_per_unit


def gather(context: bpy.types.Context, chosen: Chosen, group: str = "") -> Gathered:
    """The meshes of what is chosen; ``group``: the vertex group whose vertices are marked."""
    scene, depsgraph = context.scene, context.evaluated_depsgraph_get()
    check_here(scene.fillwright, *chosen.objects)
    meshes = tuple(mesh_arrays(obj, depsgraph, bool(group), group) for obj in chosen.objects)
    mm = mm_per_unit(scene, chosen.unit)
    source = Source(", ".join(obj.name for obj in chosen.objects), "", f"{mm:g} mm")
    part = Part(chosen.name, tuple(_piece(mesh) for mesh in meshes), mm, source)
    return Gathered(meshes, part, _marks(meshes) if group else None)


def _piece(mesh: MeshArrays) -> Piece:
    return Piece(mesh.vertices, mesh.triangles, mesh.matrix, mesh.made, mesh.trust_mm)


def _marks(meshes: Meshes) -> Any:
    if all(mesh.marks is None for mesh in meshes):
        return None
    return np.concatenate([np.zeros(len(m.vertices), bool) if m.marks is None else m.marks for m in meshes])


def locating(own: Any) -> Locating:
    """What is to hold a fit along itself."""
    return Locating(own.shaping.by_holes, own.shaping.by_rims)


@dataclass(frozen=True)
class Asked:
    """A child with the ``request`` laid out for it, the scene that asks, and its meshes by part."""

    child: Child
    request: Any
    scene: str
    meshes: Mapping[str, Meshes]

    @property
    def job(self) -> str:
        """The job's name."""
        return name_of(self.request)

    def start(self) -> None:
        """Start the child."""
        self.child.start(self.job)


@dataclass(frozen=True)
class Prepared:
    """All that the scene has to say: a job's ``request``, and by part the ``meshes`` that the answer will be for. From
    here on no part of Blender is needed."""

    scene: str
    request: Any
    meshes: Mapping[str, Meshes]

    def lay_out(self) -> Asked:
        """A child with everything laid out for it, not started yet; may run in a thread of its own."""
        child = Child()
        try:
            ask(child.folder, self.request)
        except Exception:
            child.clear()
            raise
        return Asked(child, self.request, self.scene, self.meshes)


def answer_of(asked: Asked) -> tuple[bpy.types.Scene, Answer]:
    """The scene that asked, and the answer."""
    scene = bpy.data.scenes.get(asked.scene)
    if scene is None:
        raise SceneError(f"the scene {asked.scene} is gone, so the answer has no place; try again")
    return scene, answered(asked.child.folder)
