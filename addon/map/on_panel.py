"""Objects of ours that lie on the panel and move with it: found, shown, made anew in their colour."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

from ...core.legend.legend import Colour
from ...core.legend.scene_linear import linear
from ..blender.made import put_object
from ..names import ids


def find(scene: bpy.types.Scene, name: str) -> bpy.types.Object | None:
    """Our object that was made as ``name`` in the scene, whatever it is called since."""
    return next((obj for obj in scene.objects if _made_as(obj, name)), None)


def _made_as(obj: bpy.types.Object, name: str) -> bool:
    made: Any = obj.get(ids.RESULT)
    if isinstance(made, str):
        return made == name
    # In files from before only the name tells.
    return bool(made) and (obj.name == name or obj.name.startswith(f"{name}."))


def show(obj: bpy.types.Object, shown: bool) -> None:
    """Show an object of ours in the views and in pictures, or hide it from both."""
    obj.hide_viewport = obj.hide_render = not shown


def put_on(
    scene: bpy.types.Scene, name: str, data: Any, colour: Colour, panel: bpy.types.Object | None,
    clickable: bool = False,
) -> bpy.types.Object:
    """Our object ``name`` with ``data``, in the world, moving with the ``panel``; a new one is hidden until asked for.

    Where it is not ``clickable``, a click goes to the panel.
    """
    before = find(scene, name)
    if before is not None and before.mode == "EDIT":
        before = None
    obj = put_object(scene, name, data, before)
    if before is None:
        obj.hide_select = not clickable
        show(obj, False)
    obj[ids.RESULT] = name
    obj.color = rgba(colour)
    follow(obj, panel, Matrix())
    return obj


def material(name: str, colour: Colour) -> bpy.types.Material:
    """Our material of this name: its colour where objects are drawn by their materials."""
    name = f"Fillwright {name}"
    found = bpy.data.materials.get((name, None)) or bpy.data.materials.new(name)
    found.diffuse_color = rgba(colour)
    found.roughness, found.specular_intensity = 1.0, 0.0
    return found


def rgba(colour: Colour) -> tuple[float, ...]:
    """A display colour as the linear one that objects and materials hold."""
    return (*linear(np.array(colour) / 255.0).tolist(), 1.0)


def follow(obj: bpy.types.Object, panel: bpy.types.Object | None, place: Matrix) -> None:
    """Put ``obj`` at ``place`` in the world, and have it move with the panel from there."""
    obj.parent = None
    obj.matrix_basis = place
    if panel is not None and panel.matrix_world.determinant() != 0.0:
        obj.parent = panel
        obj.matrix_parent_inverse = panel.matrix_world.inverted()
