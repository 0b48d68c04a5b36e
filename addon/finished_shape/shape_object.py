"""Finished shapes and the symmetry plane as objects in our collection."""

from __future__ import annotations

import json
import zlib
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.map.plane_grid import plane_grid
from ..blender.made import mesh_from, put_object, replace_lines_object
from ..names import ids
from ..scene.scene_meshes import MeshArrays, SceneError


def put_shape(
    scene: bpy.types.Scene, name: str, mesh: dict[str, Any], record: dict[str, Any], unit: str, source: Any = None
) -> bpy.types.Object:
    """The new shape as an object, chosen as the finished shape; ``source``: the shape that it was made from.

    ``mesh``: ``vertices``, ``triangles``, and ``made`` and ``trust_mm`` at the vertices, where it may itself be off.

    One of the same name is made anew, unless it was worked on since: then it stays, and the new one stands beside it.
    """
    own = scene.fillwright
    before = own.target
    data = mesh_from(name, mesh["vertices"], mesh["triangles"])
    _put_trust(data, mesh)
    obj = put_object(scene, name, data, _again(name))
    obj[ids.SHAPE] = json.dumps(record)
    obj[ids.SHAPE_MADE] = _mark(data)
    if source is not None:
        obj[ids.SHAPE_FROM] = source
    for shape in (obj, before):  # they lie within a few millimetres of the panel and would hide its damage
        if shape is not None and ids.SHAPE in shape:
            _hide(scene, shape)
    own.target_collection, own.target_unit = None, unit
    own.target = obj
    return obj


def _put_trust(data: bpy.types.Mesh, arrays: dict[str, Any]) -> None:
    for name, kind in ((ids.MADE, "BOOLEAN"), (ids.TRUST, "FLOAT")):
        if name in arrays:
            values = arrays[name].astype(bool if kind == "BOOLEAN" else np.float32)
            data.attributes.new(name, kind, "POINT").data.foreach_set("value", values)


def record_of(obj: bpy.types.Object | None) -> dict[str, Any] | None:
    """What is known about a shape that Fillwright made."""
    text = obj.get(ids.SHAPE) if obj is not None else None
    return json.loads(text) if isinstance(text, str) else None


def _again(name: str) -> bpy.types.Object | None:
    """The shape of that name, if it is as it was made: in place, with its mesh, alone."""
    obj = bpy.data.objects.get((name, None))
    if obj is None or ids.SHAPE not in obj or obj.mode != "OBJECT" or obj.data.users > 1 or obj.modifiers:
        return None
    still = all(abs(obj.matrix_world[i][j] - (i == j)) < 1e-9 for i in range(4) for j in range(4))
    return obj if still and obj.get(ids.SHAPE_MADE) == _mark(obj.data) else None


def _mark(mesh: bpy.types.Mesh) -> str:
    places = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", places)
    return f"{len(mesh.polygons)} {zlib.crc32(places):08x}"


def _hide(scene: bpy.types.Scene, obj: bpy.types.Object) -> None:
    layer = bpy.context.view_layer if bpy.context.scene == scene else scene.view_layers[0]
    layer.update()  # a new object is not in it before
    if obj.name in layer.objects:
        obj.hide_set(True, view_layer=layer)


def put_plane(scene: bpy.types.Scene, normal: Any, offset: float, body: tuple[MeshArrays, ...]) -> bpy.types.Object:
    """The symmetry plane as a grid of lines as wide as the body, square to its own Z."""
    corners = np.concatenate([_corners(mesh) for mesh in body])
    points, edges, matrix = plane_grid(np.asarray(normal, dtype=np.float64), offset, corners)
    obj = replace_lines_object(scene, ids.PLANE, points, edges)
    obj.matrix_world = Matrix(matrix.tolist())
    return obj


def put_lines(scene: bpy.types.Scene, name: str, lines: list[Any]) -> None:
    """Lines (k, 3), drawn in front of the panel, as our object ``name``; those of before go."""
    from ...core.surface.edge_lines import as_edges

    if not lines and bpy.data.objects.get((name, None)) is None:
        return
    points, edges = as_edges([np.array(line) for line in lines])
    replace_lines_object(scene, name, points, edges).show_in_front = True


def _corners(mesh: MeshArrays) -> Any:
    """The corners of a mesh's box, in the scene."""
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    box = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    return box @ mesh.matrix[:3, :3].T + mesh.matrix[:3, 3]


def plane_points(obj: bpy.types.Object | None) -> Any:
    """Three points of the plane through an object's origin square to its Z; None for no object."""
    if obj is None:
        return None
    return np.array([obj.matrix_world @ Vector(place) for place in ((0, 0, 0), (1, 0, 0), (0, 1, 0))])


def crease_lines(obj: bpy.types.Object | None, depsgraph: bpy.types.Depsgraph) -> list[Any]:
    """The lines that a curve, or a mesh of edges, draws; none for no object."""
    from ...core.surface.edge_lines import edge_lines

    if obj is None:
        return []
    seen = obj.evaluated_get(depsgraph)
    mesh = seen.to_mesh()
    try:
        if len(mesh.polygons):
            raise SceneError(f"{obj.name} has faces; for creases choose a curve without thickness, or a mesh of edges")
        points = np.array([tuple(seen.matrix_world @ vertex.co) for vertex in mesh.vertices]).reshape(-1, 3)
        edges = np.array([tuple(edge.vertices) for edge in mesh.edges], dtype=np.int64).reshape(-1, 2)
    finally:
        seen.to_mesh_clear()
    if len(edges) == 0:
        raise SceneError(f"{obj.name} has no line in it; draw one along the crease")
    return list(edge_lines(points, edges))
