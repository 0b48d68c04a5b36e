"""Objects' meshes as arrays, as the viewport shows them: with modifiers, shape keys and the whole transform."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from . import ids

MM_PER_UNIT = {"MM": 1.0, "CM": 10.0, "M": 1000.0, "INCH": 25.4}


class SceneError(Exception):
    """Something about the scene that the user can put right; one plain sentence."""


@dataclass(frozen=True)
class MeshArrays:
    """One object's evaluated mesh: ``vertices`` (k, 3) in its own coordinates, ``triangles`` (m, 3), ``matrix`` (4, 4) to
    the world, ``work_area`` (k,) or None, and ``own_count``: vertices of the object's own mesh."""

    name: str
    vertices: Any
    triangles: Any
    matrix: Any
    work_area: Any
    own_count: int


def mm_per_unit(scene: bpy.types.Scene, unit: str) -> float:
    """Millimetres in one Blender unit, for a declared unit; SCENE goes by the scene's unit scale."""
    return 1000.0 * scene.unit_settings.scale_length if unit == "SCENE" else MM_PER_UNIT[unit]


def mesh_arrays(obj: bpy.types.Object, depsgraph: bpy.types.Depsgraph) -> MeshArrays:
    """The arrays of ``obj``; edits that are still open are taken in first."""
    if obj.type != "MESH":
        raise SceneError(f"{obj.name} is a {obj.type.lower()}, not a mesh; convert it to a mesh first")
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    evaluated = obj.evaluated_get(depsgraph)
    mesh = evaluated.to_mesh()
    try:
        count = len(mesh.vertices)
        if count == 0 or len(mesh.polygons) == 0:
            raise SceneError(f"{obj.name} has no faces; choose the scan's mesh")
        vertices = np.empty((count, 3), dtype=np.float32)
        mesh.vertices.foreach_get("co", vertices.ravel())
        mesh.calc_loop_triangles()
        triangles = np.empty((len(mesh.loop_triangles), 3), dtype=np.int32)
        mesh.loop_triangles.foreach_get("vertices", triangles.ravel())
        work_area = _work_area(obj, mesh)
    finally:
        evaluated.to_mesh_clear()
    matrix = np.array(obj.matrix_world, dtype=np.float64)
    return MeshArrays(obj.name, vertices, triangles, matrix, work_area, len(obj.data.vertices))


def _work_area(obj: bpy.types.Object, mesh: bpy.types.Mesh) -> Any:
    """Which vertices (k,) the object's vertex group "Work Area" holds, or None where it has none."""
    group = obj.vertex_groups.get(ids.WORK_AREA)
    if group is None:
        return None
    index = group.index
    return np.array([any(g.group == index and g.weight > 0.5 for g in v.groups) for v in mesh.vertices], dtype=bool)


def save(mesh: MeshArrays, path: Path, mm: float, with_work_area: bool) -> None:
    """Leave the arrays where the child process finds them."""
    arrays = {"vertices": mesh.vertices, "triangles": mesh.triangles, "matrix": mesh.matrix, "mm_per_unit": mm}
    if with_work_area:
        arrays["work_area"] = np.zeros(len(mesh.vertices), bool) if mesh.work_area is None else mesh.work_area
    np.savez(path, **arrays)
