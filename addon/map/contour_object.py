"""Lines drawn on the panel as curve objects in our collection, one a layer: contours, hatch, dots.

They are made with the plan and kept hidden, so that they are there after a reload without planning again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np

from ...core.legend.legend import Colour
from ...core.map.drawn import COLOURS, CONTOURS, DOTS, HATCHED, PALE, DrawnLine, unpacked
from ..blender.made import collection, linear
from ..names import ids

NAMES = {CONTOURS: ids.CONTOURS, PALE: ids.CONTOURS_PALE, HATCHED: ids.HATCH, DOTS: ids.DOTS}
_ROUND = {DOTS: 2}  # a dot is seen end on; lines need no rounding


def put(scene: bpy.types.Scene, arrays: dict[str, Any], panel: bpy.types.Object | None) -> None:
    """Make all layers of a plan's answer anew; a layer that is shown stays shown."""
    for layer, name in NAMES.items():
        put_layer(scene, name, layer, unpacked(arrays, layer), panel)


def put_layer(
    scene: bpy.types.Scene, name: str, layer: str, lines: Sequence[DrawnLine], panel: bpy.types.Object | None
) -> bpy.types.Object:
    """The object ``name`` with exactly these lines, in the world, moving with the ``panel``."""
    obj = find(scene, name)
    curve = _curve(name, layer, lines)
    if obj is None:
        obj = bpy.data.objects.new(name, curve)
        obj[ids.RESULT] = True
        obj.hide_select = True  # a click goes to the panel
        collection(scene).objects.link(obj)
        show(obj, False)
    else:
        old, obj.data = obj.data, curve
        _drop(old)
    obj.color = rgba(COLOURS[layer])
    follow(obj, panel)
    return obj


def find(scene: bpy.types.Scene, name: str) -> bpy.types.Object | None:
    """Our object of this name in the scene, also where Blender has numbered it."""
    for obj in scene.objects:
        if obj.get(ids.RESULT) and (obj.name == name or obj.name.startswith(f"{name}.")):
            return obj
    return None


def show(obj: bpy.types.Object, shown: bool) -> None:
    """Show an object of ours in the views and in pictures, or hide it from both."""
    obj.hide_viewport = obj.hide_render = not shown


def follow(obj: bpy.types.Object, panel: bpy.types.Object | None) -> None:
    """Leave ``obj`` where the world has it now, and have it move with the panel."""
    obj.parent = None
    obj.matrix_basis.identity()
    if panel is not None and panel.matrix_world.determinant() != 0.0:
        obj.parent = panel
        obj.matrix_parent_inverse = panel.matrix_world.inverted()


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


def _curve(name: str, layer: str, lines: Sequence[DrawnLine]) -> bpy.types.Curve:
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.bevel_resolution, curve.use_fill_caps = "3D", _ROUND.get(layer, 0), True
    widths = [np.broadcast_to(np.asarray(line.width, dtype=np.float32), (len(line.points),)) for line in lines]
    usual = float(max((width.max() for width in widths), default=1.0))
    curve.bevel_depth = usual / 2
    for line, width in zip(lines, widths, strict=True):
        spline = curve.splines.new("POLY")
        spline.points.add(len(line.points) - 1)
        points = np.ones((len(line.points), 4), dtype=np.float32)
        points[:, :3] = line.points
        spline.points.foreach_set("co", points.ravel())
        spline.points.foreach_set("radius", np.ascontiguousarray(width / usual, dtype=np.float32))
        spline.use_cyclic_u = line.closed
    curve.materials.append(material(name, COLOURS[layer]))
    return curve


def _drop(curve: bpy.types.Curve) -> None:
    if curve.users == 0:
        bpy.data.curves.remove(curve)
