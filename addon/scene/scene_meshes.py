"""Objects' meshes as arrays, as the viewport shows them: with modifiers, shape keys and the whole transform."""

from __future__ import annotations

import json
import zlib
from dataclasses import dataclass
from typing import Any

import bmesh
import bpy
import numpy as np

from ...core.errors import FillwrightError
from ..names import ids

MM_PER_UNIT = {"MM": 1.0, "CM": 10.0, "M": 1000.0, "INCH": 25.4}


class SceneError(FillwrightError):
    """Something about the scene that the user can put right; one plain sentence."""


@dataclass(frozen=True)
class MeshArrays:
    """One object's evaluated mesh: ``vertices`` (k, 3) in its own coordinates, ``triangles`` (m, 3), ``matrix`` (4, 4)
    to the world, ``marks`` (k,) of a vertex group or None. ``uid`` finds the object again; ``own_counts``: vertices and
    faces of the object's own mesh, ``faces`` of this one; ``made`` and ``trust_mm`` (k,) of a shape of ours or None."""

    name: str
    uid: int
    vertices: Any
    triangles: Any
    matrix: Any
    marks: Any
    faces: int
    own_counts: tuple[int, int]
    made: Any = None
    trust_mm: Any = None


def mm_per_unit(scene: bpy.types.Scene, unit: str) -> float:
    """Millimetres in one Blender unit, for a declared unit; SCENE goes by the scene's unit scale, OWN by the tape."""
    if unit == "OWN":
        return scene.fillwright.panel_mm_per_unit
    return 1000.0 * scene.unit_settings.scale_length if unit == "SCENE" else MM_PER_UNIT[unit]


def mesh_arrays(
    obj: bpy.types.Object, depsgraph: bpy.types.Depsgraph, with_marks: bool = True, group: str = ids.WORK_AREA
) -> MeshArrays:
    """The arrays of ``obj``; edits that are still open are taken in first. ``group``: whose vertices are marked."""
    if obj.type != "MESH":
        raise SceneError(f"{obj.name} is a {obj.type.lower()}, not a mesh; convert it to a mesh first")
    if obj.mode == "EDIT":
        obj.update_from_editmode()
    worked_out = _is_worked_out(obj, depsgraph.view_layer)
    if not worked_out and _needs_working_out(obj):
        raise SceneError(f"{obj.name} is switched off in the viewport, so its modifiers or parents are not worked out; "
                         "switch it on first")
    seen = obj.evaluated_get(depsgraph) if worked_out else obj
    mesh = seen.to_mesh()
    try:
        if len(mesh.vertices) == 0 or len(mesh.polygons) == 0:
            raise SceneError(f"{obj.name} has no faces; choose the scan's mesh")
        vertices, triangles = _vertices(mesh), _triangles(mesh)
        marks = _marks(obj, mesh, group) if with_marks else None
        faces, trust = len(mesh.polygons), _trust(obj, mesh)
    finally:
        seen.to_mesh_clear()
    place = np.array(seen.matrix_world if worked_out else obj.matrix_basis, dtype=np.float64)
    own = (len(obj.data.vertices), len(obj.data.polygons))
    return MeshArrays(obj.name, obj.session_uid, vertices, triangles, place, marks, faces, own, *trust)


def own_arrays(obj: bpy.types.Object, depsgraph: bpy.types.Depsgraph) -> tuple[Any, Any]:
    """Vertices (k, 3), as seen where modifiers leave their number alone, and triangles (m, 3) of its own mesh."""
    seen = mesh_arrays(obj, depsgraph, False)
    if seen.own_counts == (len(seen.vertices), seen.faces):
        return seen.vertices, seen.triangles
    return _vertices(obj.data), _triangles(obj.data)


def _is_worked_out(obj: bpy.types.Object, layer: bpy.types.ViewLayer) -> bool:
    """Whether Blender keeps up an object: those hidden with H, too, but not those that are switched off."""
    return obj.visible_get(view_layer=layer) or (not obj.hide_viewport and _is_on(obj, layer.layer_collection))


def _is_on(obj: bpy.types.Object, within: bpy.types.LayerCollection) -> bool:
    if within.exclude or within.hide_viewport or within.collection.hide_viewport:
        return False
    return obj.name in within.collection.objects or any(_is_on(obj, child) for child in within.children)


def _needs_working_out(obj: bpy.types.Object) -> bool:
    moved = obj.parent is not None or len(obj.constraints) > 0 or obj.animation_data is not None
    return moved or len(obj.modifiers) > 0 or obj.data.shape_keys is not None


def _vertices(mesh: bpy.types.Mesh) -> Any:
    vertices = np.empty((len(mesh.vertices), 3), dtype=np.float32)
    position = mesh.attributes.get("position")
    if position is not None and len(position.data) == len(vertices):
        position.data.foreach_get("vector", vertices.ravel())
    else:
        mesh.vertices.foreach_get("co", vertices.ravel())
    return vertices


def _triangles(mesh: bpy.types.Mesh) -> Any:
    """Corners of all triangles; those of larger faces as Blender divides them, which takes longer."""
    corner = mesh.attributes.get(".corner_vert")
    if len(mesh.loops) == 3 * len(mesh.polygons) and corner is not None and len(corner.data) == len(mesh.loops):
        triangles = np.empty((len(mesh.polygons), 3), dtype=np.int32)
        corner.data.foreach_get("value", triangles.ravel())
        return triangles
    mesh.calc_loop_triangles()
    triangles = np.empty((len(mesh.loop_triangles), 3), dtype=np.int32)
    mesh.loop_triangles.foreach_get("vertices", triangles.ravel())
    return triangles


def _marks(obj: bpy.types.Object, mesh: bpy.types.Mesh, name: str) -> Any:
    """Which vertices (k,) the object's vertex group ``name`` holds, or None where it has none.

    Blender gives no array of weights; a bmesh layer is the quickest way (0.25 s for half a million vertices).
    """
    group = obj.vertex_groups.get(name)
    if group is None:
        return None
    index, copy = group.index, bmesh.new()
    try:
        copy.from_mesh(mesh, face_normals=False, vertex_normals=False)
        layer = copy.verts.layers.deform.active
        if layer is None:
            return np.zeros(len(mesh.vertices), dtype=bool)
        return np.fromiter((v[layer].get(index, 0.0) > 0.5 for v in copy.verts), dtype=bool, count=len(copy.verts))
    finally:
        copy.free()


def _trust(obj: bpy.types.Object, mesh: bpy.types.Mesh) -> tuple[Any, Any]:
    """How far a shape may be off, at its vertices; one that Fillwright made and that has lost it may be off by any."""
    count, found = len(mesh.vertices), {}
    for name, kind in ((ids.MADE, bool), (ids.TRUST, np.float32)):
        attribute = mesh.attributes.get(name)
        if attribute is not None and attribute.domain == "POINT" and len(attribute.data) == count:
            found[name] = np.empty(count, dtype=kind)
            attribute.data.foreach_get("value", found[name])
    if len(found) == 2:
        return found[ids.MADE], found[ids.TRUST]
    made_up = json.loads(obj.get(ids.SHAPE, "{}")).get("kind") in ids.MADE_UP
    return (np.zeros(count, dtype=bool), np.full(count, np.nan)) if made_up else (None, None)


def fingerprint(mesh: MeshArrays) -> str:
    """A short text that changes with the mesh, its place or its work area."""
    arrays = [mesh.vertices, mesh.triangles, mesh.matrix]
    arrays += [array for array in (mesh.made, mesh.trust_mm, mesh.marks) if array is not None]
    return " ".join(f"{zlib.crc32(np.ascontiguousarray(array)):08x}" for array in arrays)


def object_of(mesh: MeshArrays) -> bpy.types.Object | None:
    """The object that the arrays came from, if it is still there: after an undo its old reference is worth nothing."""
    return next((obj for obj in bpy.data.objects if obj.session_uid == mesh.uid), None)
