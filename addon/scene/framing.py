"""3D views brought to an area or to a box."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Quaternion, Vector

from ...core.picture.side_by_side import outward_axes
from ...core.report.plan_lines import view_width_mm
from ..blender.free_room import free_room
from .scene_meshes import mesh_arrays

_LEAST_FREE = 0.3  # of a view; in less it would be too small to see
_UPRIGHT = 0.75  # how high what is looked at is, at most, to its width


def go_to(context: bpy.types.Context, own: Any, index: int) -> bool:
    """Bring every 3D view of the window to an area; whether there is such an area and a view."""
    if not 0 <= index < len(own.areas):
        return False
    item = own.areas[index]
    point = Vector(item.deepest_point_mm) / own.planned_mm_per_unit
    width = view_width_mm(item.area_mm2) / own.planned_mm_per_unit
    views = _view_areas(context)
    for area in views:
        frame(area, point, width)
    return bool(views)


def frame(area: bpy.types.Area, point: Vector, width: float, seen_from: Quaternion | None = None) -> None:
    """Have ``width`` around ``point`` fill what is free of a 3D view, seen as before where nothing else is said."""
    space = area.spaces.active
    region = space.region_3d
    if region.view_perspective == "CAMERA":
        region.view_perspective = "PERSP"
    if seen_from is not None:
        region.view_rotation = seen_from
    share, aside = _free(area)
    distance, half = _from_where(region, width, share)
    region.view_location = point - region.view_rotation @ (half * aside)
    region.view_distance = distance
    if distance > 0.2 * space.clip_end:  # a panel in millimetres lies beyond a new file's view
        space.clip_end = 20.0 * distance
        space.clip_start = max(space.clip_start, distance / 1000.0)  # else lines on the panel break into specks


def _free(area: bpy.types.Area) -> tuple[Vector, Vector]:
    """What share of a view's width and height is free, and where the middle of that lies from the view's own, in halves
    of its width."""
    window = next(region for region in area.regions if region.type == "WINDOW")
    if window.width <= 1:  # in the background
        return Vector((1.0, 1.0)), Vector((0.0, 0.0, 0.0))
    left, bottom, width, height = free_room(area, window)
    half = window.width / 2
    return (Vector((max(width / window.width, _LEAST_FREE), max(height / window.height, _LEAST_FREE))),
            Vector((left + width / 2 - half, bottom + height / 2 - window.height / 2, 0.0)) / half)


def _from_where(region: bpy.types.RegionView3D, width: float, share: Vector) -> tuple[float, float]:
    """How far from what is looked at ``width`` fills the free ``share`` of the view, by its width or its height; and
    half the whole width that is seen there."""
    matrix = region.window_matrix
    across, up = matrix[0][0], matrix[1][1]
    if across <= 0.0 or up <= 0.0:
        return width, 0.0
    scale = 1.0 if region.is_perspective else max(region.view_distance, 1e-9)  # of a view without perspective as it is
    distance = 0.5 * scale * width * max(across / share.x, _UPRIGHT * up / share.y)
    return distance, distance / across / scale


def from_behind(space: bpy.types.SpaceView3D, place: Vector, outward: Vector) -> bool:
    """Whether a 3D view looks at ``place`` from the side that ``outward`` looks away from."""
    view = space.region_3d
    eye = view.view_matrix.inverted()
    toward = eye.translation - place if view.is_perspective else eye.col[2].to_3d()
    return toward.dot(outward) < 0.0


def seen_from(context: bpy.types.Context) -> Matrix | None:
    """How the 3D view looks at the scene, its own or the window's first: columns right, up and toward the viewer in the
    world; None where there is no view."""
    own = getattr(context, "area", None)
    areas = [own] if own is not None and own.type == "VIEW_3D" else _view_areas(context)
    return areas[0].spaces.active.region_3d.view_rotation.to_matrix() if areas else None


def _view_areas(context: bpy.types.Context) -> list[bpy.types.Area]:
    screen = getattr(context, "screen", None)
    return [area for area in screen.areas if area.type == "VIEW_3D"] if screen else []


def look_from_outside(context: bpy.types.Context, objects: list[bpy.types.Object]) -> None:
    """Have the objects, one panel together, fill the window's 3D views, seen from the side that their faces look to."""
    parts, depsgraph = [], context.evaluated_depsgraph_get()
    for obj in objects:
        mesh = mesh_arrays(obj, depsgraph, False)
        points = mesh.vertices.astype(np.float64) @ mesh.matrix[:3, :3].T + mesh.matrix[:3, 3]
        points = np.nan_to_num(points)  # a broken scan may have points that are nowhere
        parts.append((points, mesh.triangles + sum(len(before) for before, _ in parts)))
    axes = outward_axes(*(np.concatenate(column) for column in zip(*parts, strict=True)))
    frame_objects(context, objects, Matrix(axes.T.tolist()).to_quaternion())


def frame_objects(
    context: bpy.types.Context, objects: list[bpy.types.Object], seen_from: Quaternion | None = None
) -> None:
    """Have the box around the objects fill the window's 3D views, seen as before where nothing else is said."""
    frame_all(context, [obj.matrix_world @ Vector(corner) for obj in objects for corner in obj.bound_box], seen_from)


def frame_all(context: bpy.types.Context, corners: list[Vector], seen_from: Quaternion | None) -> None:
    """Have the box around ``corners`` fill the window's 3D views, turned as ``seen_from`` says where it does."""
    low = Vector(map(min, zip(*corners, strict=True)))
    high = Vector(map(max, zip(*corners, strict=True)))
    for area in _view_areas(context):
        frame(area, 0.5 * (low + high), 1.3 * (high - low).length, seen_from)
        area.tag_redraw()
