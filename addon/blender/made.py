"""Things that Fillwright makes: meshes and objects in a collection of its own."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ..names import ids

_LONGEST = 60  # Blender cuts names at 63


def collection(scene: bpy.types.Scene) -> bpy.types.Collection:
    """The collection that holds what Fillwright makes."""
    made = bpy.data.collections.get((ids.COLLECTION, None)) or bpy.data.collections.new(ids.COLLECTION)
    if made not in scene.collection.children_recursive:
        scene.collection.children.link(made)
    return made


def replace_mesh_object(
    scene: bpy.types.Scene, name: str, vertices: Any, triangles: Any, matrix: Any
) -> bpy.types.Object:
    """A mesh object of ours, made anew in our collection under ``name``, at ``matrix`` (4, 4) where it is given."""
    obj = _put(scene, name[:_LONGEST], mesh_from(name[:_LONGEST], vertices, triangles))
    if matrix is not None:
        obj.matrix_world = Matrix([list(map(float, row)) for row in matrix])  # plain lists would be taken as columns
    return obj


def replace_lines_object(scene: bpy.types.Scene, name: str, points: Any, edges: Any) -> bpy.types.Object:
    """An object of edges (m, 2) between points (k, 3), made anew in our collection under ``name``."""
    mesh = bpy.data.meshes.new(name[:_LONGEST])
    mesh.from_pydata(points.tolist(), edges.tolist(), [])
    return _put(scene, name[:_LONGEST], mesh)


def _put(scene: bpy.types.Scene, name: str, mesh: bpy.types.Mesh) -> bpy.types.Object:
    """Our object of that name with the mesh in place of its old one; a new one where the name is the user's."""
    obj = bpy.data.objects.get((name, None))
    if obj is not None and (not obj.get(ids.RESULT) or obj.mode == "EDIT"):
        obj = None
    obj = put_object(scene, name, mesh, obj)
    obj[ids.RESULT] = True
    return obj


def put_object(scene: bpy.types.Scene, name: str, data: Any, obj: bpy.types.Object | None) -> bpy.types.Object:
    """``obj`` with ``data`` in place of its old data, which go where nothing else has them; None: a new object."""
    if obj is None:
        obj = bpy.data.objects.new(name, data)
        collection(scene).objects.link(obj)
        return obj
    old, obj.data = obj.data, data
    if old.users == 0:
        bpy.data.batch_remove([old])
    return obj


def mesh_from(name: str, vertices: Any, triangles: Any) -> bpy.types.Mesh:
    """A Blender mesh from arrays (k, 3) and (m, 3), whose triangles have three different corners each.

    Through attributes, and without validate(): that is eight times faster, and every triangle stays in its place.
    """
    mesh = bpy.data.meshes.new(name)
    count = len(triangles)
    if len(vertices) == 0:
        return mesh
    mesh.vertices.add(len(vertices))
    mesh.attributes["position"].data.foreach_set("vector", np.ascontiguousarray(vertices, dtype=np.float32).ravel())
    if count:
        mesh.loops.add(3 * count)
        corners = np.ascontiguousarray(triangles, dtype=np.int32).ravel()
        mesh.attributes[".corner_vert"].data.foreach_set("value", corners)
        mesh.polygons.add(count)
        mesh.polygons.foreach_set("loop_start", np.arange(0, 3 * count, 3, dtype=np.int32))
    mesh.update(calc_edges=True)
    return mesh
