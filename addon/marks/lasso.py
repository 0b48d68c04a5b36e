"""Lasso: the work area, or another mark, drawn around on the panel, as it is seen."""

from __future__ import annotations

from typing import Any

import bpy
import gpu
import numpy as np
from bpy.props import EnumProperty
from gpu_extras.batch import batch_for_shader

from ...core.surface.lasso import inside_lasso
from ..blender import asking
from ..names import ids
from ..scene.chosen import PANEL, source
from ..scene.scene_meshes import SceneError, own_arrays
from .work_area import GROUPS, WORDS, fill_group, marked, panel_to_mark

_ASKS = "Draw around the {} on the panel; Shift adds, Ctrl takes away, Esc ends"
_PASSED = {"MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "TRACKPADPAN", "TRACKPADZOOM"}
_STEP_PX = 4


class FILLWRIGHT_OT_work_area_lasso(bpy.types.Operator):
    bl_idname = ids.WORK_AREA_LASSO
    bl_label = "Lasso"
    bl_description = "Draw around what is to be marked; with Shift it is added, with Ctrl taken away"
    bl_options = {"UNDO"}

    group: EnumProperty(name="Mark", items=GROUPS, description="What is marked")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if source(own, PANEL) is None and own.shaping.body is None:
            cls.poll_message_set("Choose the panel first")
            return False
        if context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
            return False
        if context.area is None or context.area.type != "VIEW_3D":
            cls.poll_message_set("Start it in a 3D view")
            return False
        return True

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        try:
            panel_to_mark(context, self.group)
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        self._outline: list[tuple[int, int]] = []
        self._how = "REPLACE"
        self._region = next(region for region in context.area.regions if region.type == "WINDOW")
        self._handle = bpy.types.SpaceView3D.draw_handler_add(self._draw, (self._region,), "WINDOW", "POST_PIXEL")
        return asking.begin(context, self, _ASKS.format(WORDS[self.group]))

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        if event.type in {"ESC", "RIGHTMOUSE"}:
            self._end(context)
            return {"CANCELLED"}
        if event.type in _PASSED and not self._outline:
            return {"PASS_THROUGH"}
        spot = (event.mouse_x - self._region.x, event.mouse_y - self._region.y)
        if event.type == "LEFTMOUSE" and event.value == "PRESS":
            self._how = "ADD" if event.shift else "SUBTRACT" if event.ctrl else "REPLACE"
            self._outline = [spot]
        elif event.type == "MOUSEMOVE" and self._outline:
            if max(abs(a - b) for a, b in zip(spot, self._outline[-1], strict=True)) >= _STEP_PX:
                self._outline.append(spot)
                context.area.tag_redraw()
        elif event.type == "LEFTMOUSE" and event.value == "RELEASE" and self._outline:
            return self._drawn(context)
        return {"RUNNING_MODAL"}

    def _drawn(self, context: bpy.types.Context) -> set[str]:
        size = np.array([self._region.width, self._region.height], dtype=np.float64)
        outline = 2.0 * np.array(self._outline) / size - 1.0
        view = np.array(context.area.spaces.active.region_3d.perspective_matrix)
        self._end(context)
        try:
            self.report({"INFO"}, mark(context, view, outline, self._how, self.group))
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        self._end(context)

    def _end(self, context: bpy.types.Context) -> None:
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
        asking.end(context)

    def _draw(self, region: bpy.types.Region) -> None:
        if bpy.context.region == region and len(self._outline) > 1:
            draw_line([*self._outline, self._outline[0]])


def mark(context: bpy.types.Context, view: Any, outline: Any, how: str, group: str = "WORK_AREA") -> str:
    """Put what lies inside ``outline`` (k, 2), seen through ``view`` (4, 4), into a group; one sentence."""
    panel = panel_to_mark(context, group)
    depsgraph = context.evaluated_depsgraph_get()
    found = []
    for obj in panel:
        vertices, triangles = own_arrays(obj, depsgraph)
        inside = inside_lasso(vertices, triangles, view @ np.array(obj.matrix_world), outline)
        found.append(np.flatnonzero(inside).tolist())
    count = sum(len(rows) for rows in found)
    if count == 0:
        raise SceneError("the lasso holds nothing of the panel; draw around a part of it")
    for obj, rows in zip(panel, found, strict=True):
        fill_group(obj, rows, group, how)
    marked(context, group)
    word = {"REPLACE": "is", "ADD": "grew by", "SUBTRACT": "lost"}[how]
    return f"The {WORDS[group]} {word} {count:,} vertices".replace(",", " ")


def draw_line(points: list[Any]) -> None:
    """A line over the view through points in pixels: light on dark, so that it shows on every ground."""
    shader = gpu.shader.from_builtin("POLYLINE_UNIFORM_COLOR")
    batch = batch_for_shader(shader, "LINE_STRIP", {"pos": [(*point, 0.0) for point in points]})
    scale = bpy.context.preferences.system.ui_scale
    gpu.state.blend_set("ALPHA")
    for width, colour in ((4.0, (0.0, 0.0, 0.0, 0.6)), (2.0, (1.0, 1.0, 1.0, 1.0))):
        shader.bind()
        shader.uniform_float("viewportSize", gpu.state.viewport_get()[2:])
        shader.uniform_float("lineWidth", width * scale)
        shader.uniform_float("color", colour)
        batch.draw(shader)
    gpu.state.blend_set("NONE")


CLASSES = (FILLWRIGHT_OT_work_area_lasso,)
