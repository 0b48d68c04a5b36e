"""The panel as pictures are taken of it: a copy of what the viewport shows, with the lines drawn on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ..map.on_panel import find
from ..names import ids
from ..scene.scene_meshes import SceneError
from ..state.scene_state import carriers
from .render import Studio

LINES = (ids.CONTOURS, ids.CONTOURS_PALE, ids.CHALK, ids.CHALK_NOTES)


@dataclass(frozen=True)
class Photo:
    """How a scan's own look can be shown: ``kind`` TEXTURE for an image, VERTEX for ``colours`` of its own, or ""."""

    kind: str
    colours: str


@dataclass(frozen=True)
class Sitter:
    """The panel as the studio holds it: its objects, about the world's ``middle``, and its points for choosing views.

    ``points``, ``normals`` (n, 3), ``area`` (n,): of all objects' vertices, about ``middle``, in Blender units.
    """

    objects: tuple[bpy.types.Object, ...]
    lines: dict[str, bpy.types.Object]
    photos: tuple[Photo, ...]
    middle: Any
    points: Any
    normals: Any
    area: Any

    @property
    def size(self) -> float:
        """Length of the box around it."""
        return float(np.linalg.norm(np.ptp(self.points, axis=0))) or 1.0


def sit(studio: Studio, scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> Sitter:
    """The panel's map in the studio, as the viewport shows it. Raises SceneError where there is none."""
    holders = carriers(scene)
    if not holders:
        raise SceneError("there is no panel that carries the map; press Plan the Fill first")
    middle = _middle(holders)
    objects = tuple(_copy(studio, obj, middle, depsgraph) for obj in holders)
    parts = [points_of(obj.data) for obj in objects]
    points, normals, area = (np.concatenate(column) for column in zip(*parts, strict=True))
    found = {name: obj for name in LINES if (obj := find(scene, name)) is not None and not obj.hide_viewport}
    lines = {name: _line_copy(studio, obj, middle) for name, obj in found.items()}
    photos = tuple(_photo(obj) for obj in objects)
    return Sitter(objects, lines, photos, middle, points, normals, area)


def _middle(holders: list[bpy.types.Object]) -> Any:
    corners = [obj.matrix_world @ Vector(corner) for obj in holders for corner in obj.bound_box]
    return np.array(corners, dtype=np.float64).mean(axis=0)


def _about(matrix: Matrix, middle: Any) -> Matrix:
    moved = matrix.copy()
    moved.translation -= Vector(middle)
    return moved


def _copy(studio: Studio, obj: bpy.types.Object, middle: Any, depsgraph: bpy.types.Depsgraph) -> bpy.types.Object:
    mesh = bpy.data.meshes.new_from_object(
        obj.evaluated_get(depsgraph), preserve_all_data_layers=True, depsgraph=depsgraph)
    made = studio.add(obj.name, mesh)
    if ids.DEPTH not in mesh.attributes or ids.AREA not in mesh.attributes:
        raise SceneError(f"{obj.name} carries no map as it is shown now; leave edit mode or plan again")
    mesh.transform(_about(obj.matrix_world, middle))
    if obj.matrix_world.determinant() < 0:
        mesh.flip_normals()
    return made


def points_of(mesh: bpy.types.Mesh) -> tuple[Any, Any, Any]:
    """A planned mesh's points and normals (n, 3) and each point's area (n,)."""
    points, normals = (np.empty((len(mesh.vertices), 3), dtype=np.float32) for _ in range(2))
    mesh.vertices.foreach_get("co", points.ravel())
    mesh.vertex_normals.foreach_get("vector", normals.ravel())
    area = np.empty(len(mesh.vertices), dtype=np.int32)
    mesh.attributes[ids.AREA].data.foreach_get("value", area)
    return points.astype(np.float64), normals.astype(np.float64), area


def _line_copy(studio: Studio, obj: bpy.types.Object, middle: Any) -> bpy.types.Object:
    made = studio.add(obj.name, obj.data.copy())
    made.matrix_world = _about(obj.matrix_world, middle)
    return made


def _photo(obj: bpy.types.Object) -> Photo:
    own = next((a.name for a in obj.data.color_attributes if a.name not in ids.COLOURS), "")
    if obj.data.uv_layers and any(_has_image(material) for material in obj.data.materials):
        return Photo("TEXTURE", own)
    return Photo("VERTEX" if own else "", own)


def _has_image(material: bpy.types.Material | None) -> bool:
    nodes = material.node_tree.nodes if material is not None and material.node_tree is not None else ()
    return any(node.type == "TEX_IMAGE" and node.image is not None and node.image.size[0] > 0 for node in nodes)
