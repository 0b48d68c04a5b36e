"""Objects moved as one, and put back to the last bit."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from .scene_meshes import SceneError

_FIELDS = ("location", "rotation_euler", "rotation_quaternion", "rotation_axis_angle", "scale")


def places(objects: list[bpy.types.Object]) -> dict[str, dict[str, tuple[float, ...]]]:
    """Where objects stand by their own figures, to be given to `put_back`."""
    return {obj.name: {field: tuple(getattr(obj, field)) for field in _FIELDS} for obj in objects}


def put_back(kept: dict[str, dict[str, tuple[float, ...]]]) -> None:
    """Put objects back where they stood; those that are gone are left out."""
    for name, fields in kept.items():
        obj = bpy.data.objects.get((name, None))
        for field, value in fields.items() if obj is not None else ():
            setattr(obj, field, value)


def move(context: bpy.types.Context, objects: list[bpy.types.Object], matrix: Any) -> None:
    """Move objects by ``matrix`` (4, 4) in the scene; all of them or, with a SceneError, none."""
    linked = next((obj for obj in objects if obj.library is not None), None)
    if linked is not None:
        raise SceneError(f"{linked.name} is linked from another file and can't be moved; make it local first")
    kept = places(objects)
    wanted = {obj: _matrix(matrix) @ np.array(obj.matrix_world) for obj in objects}
    for obj in sorted(objects, key=_depth):  # parents first: they take their children along
        context.view_layer.update()
        obj.matrix_world = Matrix(wanted[obj].tolist())
    context.view_layer.update()
    held = next((obj for obj in objects if not _is_at(obj, wanted[obj])), None)
    if held is not None:
        put_back(kept)
        context.view_layer.update()
        raise SceneError(f"{held.name} is held by a constraint, animation or a sheared parent and can't be moved; "
                         "apply or remove that first")


def _matrix(matrix: Any) -> Any:
    return np.asarray(matrix, dtype=np.float64).reshape(4, 4)


def _depth(obj: bpy.types.Object) -> int:
    return 0 if obj.parent is None else 1 + _depth(obj.parent)


def _is_at(obj: bpy.types.Object, wanted: Any) -> bool:
    """Whether Blender has taken the place, which it keeps in single precision."""
    size = max(np.abs(wanted).max(), 1e-9)
    return bool(np.abs(np.array(obj.matrix_world) - wanted).max() < 1e-5 * size)
