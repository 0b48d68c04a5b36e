"""Plane from Points: three points clicked near the middle line, through which the search for symmetry starts."""

from __future__ import annotations

import bpy
import numpy as np
from mathutils import Vector

from ...core.map.plane_grid import plane_through_three
from ..blender import asking
from ..names import ids
from ..scene.chosen import PANEL, part, source
from ..scene.scene_meshes import SceneError, mesh_arrays
from ..set_out.set_size import _PASSED, hit
from .shape_object import put_plane

_ASKS = ("Click a point on the middle line; Esc ends", "Click a second one, far from the first; Esc ends",
         "Click a third point of the symmetry plane, off the line through the first two; Esc ends")


class FILLWRIGHT_OT_plane_from_points(bpy.types.Operator):
    bl_idname = ids.PLANE_FROM_POINTS
    bl_label = "From 3 Points"
    bl_description = "Click three points near the symmetry plane on the body, where it can't be found by itself"
    bl_options = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if own.shaping.body is None and source(own, PANEL) is None:
            cls.poll_message_set("Choose the body, or the panel, first")
        elif context.area is None or context.area.type != "VIEW_3D":
            cls.poll_message_set("Start it in a 3D view")
        else:
            return True
        return False

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        try:
            self._body = {obj.name for obj in _body(context)}
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        self._points: list[Vector] = []
        return asking.begin(context, self, _ASKS[0])

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type in _PASSED:
            return {"PASS_THROUGH"}
        if event.type in {"ESC", "RIGHTMOUSE"}:
            self._end(context)
            return {"CANCELLED"}
        if event.type != "LEFTMOUSE" or event.value != "PRESS":
            return {"RUNNING_MODAL"}
        point = hit(context, event, self._body)
        if point is None:
            self.report({"WARNING"}, "That is not on the body; click on it")
            return {"RUNNING_MODAL"}
        self._points.append(point)
        if len(self._points) < 3:
            context.workspace.status_text_set(_ASKS[len(self._points)])
            return {"RUNNING_MODAL"}
        self._end(context)
        try:
            set_start(context, self._points)
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        self._end(context)

    def _end(self, context: bpy.types.Context) -> None:
        asking.end(context)


def set_start(context: bpy.types.Context, points: list[Vector]) -> None:
    """The plane through three points of the scene shown, and chosen as the start."""
    found = plane_through_three(np.array([tuple(point) for point in points]))
    if found is None:
        raise SceneError("the three points lie on one line; click the third one off it")
    depsgraph = context.evaluated_depsgraph_get()
    body = tuple(mesh_arrays(obj, depsgraph, False) for obj in _body(context))
    context.scene.fillwright.shaping.start = put_plane(context.scene, *found, body)


def _body(context: bpy.types.Context) -> list[bpy.types.Object]:
    own = context.scene.fillwright
    if own.shaping.body is not None:
        return [own.shaping.body]
    return list(part(own, PANEL).objects)


CLASSES = (FILLWRIGHT_OT_plane_from_points,)
