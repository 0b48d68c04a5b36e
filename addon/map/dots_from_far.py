"""Dots over what is not measured: small ones seen from near by, fewer and larger ones from far, where small ones would
shimmer."""

from __future__ import annotations

import bpy
from mathutils import Vector

from ..blender.after_drawing import AfterDrawing
from ..names import ids
from . import maps, on_panel

_LEAST_PX = 2.0  # a smaller dot falls between the view's pixels


def swap() -> None:
    """Show the dots that suit the views of the scene that is shown."""
    scene = bpy.context.scene
    near, far = (on_panel.find(scene, name) for name in (ids.DOTS, ids.DOTS_FAR))
    if near is None or far is None or not maps.is_shown(scene.fillwright, maps.FILL):
        return
    from_far = is_far(near)
    on_panel.show(near, not from_far)
    on_panel.show(far, from_far)


def is_far(dots: bpy.types.Object) -> bool:
    """Whether the dots are too small to be seen in every view that there is; not where there is none."""
    size = 2.0 * dots.data.bevel_depth * dots.matrix_world.median_scale
    seen = [size * per_unit for window in bpy.context.window_manager.windows for area in window.screen.areas
            if area.type == "VIEW_3D" and (per_unit := _pixels(area, dots)) > 0.0]
    return bool(seen) and max(seen) < _LEAST_PX


def _pixels(area: bpy.types.Area, obj: bpy.types.Object) -> float:
    """How many pixels of a view a unit is long where the object lies; 0 in one that is not drawn."""
    view = area.spaces.active.region_3d
    region = next(region for region in area.regions if region.type == "WINDOW")
    if region.width <= 1:
        return 0.0
    away = 1.0
    if view.is_perspective:
        middle = obj.matrix_world @ (sum(map(Vector, obj.bound_box), Vector()) / 8)
        away = max((view.view_matrix.inverted().translation - middle).length, 1e-9)
    return float(0.5 * region.width * view.window_matrix[0][0] / away)


def _is_due() -> bool:
    scene = bpy.context.scene
    near = on_panel.find(scene, ids.DOTS)
    if near is None or not len(near.data.splines) or not maps.is_shown(scene.fillwright, maps.FILL):
        return False
    return is_far(near) != near.hide_viewport


_SWAP = AfterDrawing(_is_due, swap)
register, unregister = _SWAP.begin, _SWAP.end
