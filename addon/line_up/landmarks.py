"""Click Matching Points: pairs of points on panel and finished shape, clicked in turn, from which Line Up starts."""

from __future__ import annotations

from typing import Any

import bpy
from mathutils import Vector

from ..blender import asking
from ..blender.redraw import redraw_sidebar
from ..child.work_shown import WAIT
from ..names import ids
from ..scene.chosen import PANEL, TARGET, both, source
from ..scene.scene_meshes import SceneError
from ..set_out.set_size import _PASSED, hit
from .landmarks_draw import draw_marks
from .line_up import LEAST_PAIRS
from .side_by_side import SideBySide

_ENOUGH = "Enter lines up, "
_HOW = "Backspace takes the last point back, {}Esc ends"


class FILLWRIGHT_OT_landmarks(bpy.types.Operator):
    bl_idname = ids.LANDMARKS
    bl_label = "Click Matching Points"
    bl_description = "Click three or more matching points in turn on the panel and on the finished shape, side by side"
    bl_options = {"UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        own = context.scene.fillwright
        if context.window_manager.fillwright_running:
            cls.poll_message_set(WAIT)
        elif not (source(own, PANEL) and source(own, TARGET)):
            cls.poll_message_set("Choose the panel and the finished shape first")
        elif context.mode != "OBJECT":
            cls.poll_message_set("Go to Object Mode first")
        elif context.area is None or context.area.type != "VIEW_3D":
            cls.poll_message_set("Start it in a 3D view")
        else:
            return True
        return False

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        tidy(context.scene.fillwright.shaping)
        try:
            self._shown = SideBySide.begin(context)
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        window = next(region for region in context.area.regions if region.type == "WINDOW")
        self._handle = bpy.types.SpaceView3D.draw_handler_add(draw_marks, (window, self._shown), "WINDOW", "POST_PIXEL")
        context.window.cursor_modal_set("CROSSHAIR")
        self._ask(context)
        context.window_manager.modal_handler_add(self)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        pairs = context.scene.fillwright.shaping.pairs
        if event.type in _PASSED:
            return {"PASS_THROUGH"}
        if event.type in {"ESC", "RIGHTMOUSE"} and event.value == "PRESS":
            self._end(context)
            return {"FINISHED"}
        if event.value != "PRESS":
            return {"RUNNING_MODAL"}
        if event.type == "LEFTMOUSE":
            if _in_view(context, event):
                self._clicked(context, event, pairs)
        elif event.type == "BACK_SPACE" or (event.type == "Z" and event.ctrl):
            take_back(pairs)
        elif event.type in {"RET", "NUMPAD_ENTER"}:
            return self._entered(context, pairs)
        self._ask(context)
        return {"RUNNING_MODAL"}

    def _clicked(self, context: bpy.types.Context, event: bpy.types.Event, pairs: Any) -> None:
        on_panel = not is_open(pairs)
        names = self._shown.panel if on_panel else self._shown.target
        for name in names:
            point = hit(context, event, {name})
            if point is not None:
                add(pairs, context.scene.objects[name], point, on_panel)
                return
        self.report({"WARNING"}, f"Now click on the {'panel, left' if on_panel else 'finished shape, right'}")

    def _entered(self, context: bpy.types.Context, pairs: Any) -> set[str]:
        whole = sum(pair.target is not None for pair in pairs)
        if whole < LEAST_PAIRS:
            self.report({"WARNING"}, f"{whole} pairs are clicked; three or more are wanted, far from one another")
            return {"RUNNING_MODAL"}
        self._end(context)
        bpy.ops.fillwright.line_up("INVOKE_DEFAULT", start="POINTS")
        return {"FINISHED"}

    def cancel(self, context: bpy.types.Context) -> None:
        self._end(context)

    def _ask(self, context: bpy.types.Context) -> None:
        pairs = context.scene.fillwright.shaping.pairs
        place = "finished shape, right" if is_open(pairs) else "panel, left"
        enough = sum(pair.target is not None for pair in pairs) >= LEAST_PAIRS
        number = len(pairs) if is_open(pairs) else len(pairs) + 1
        how = _HOW.format(_ENOUGH if enough else "")
        context.workspace.status_text_set(f"Click point {number} on the {place};  {how}")
        context.area.tag_redraw()
        redraw_sidebar()

    def _end(self, context: bpy.types.Context) -> None:
        if self._handle is not None:
            bpy.types.SpaceView3D.draw_handler_remove(self._handle, "WINDOW")
            self._handle = None
            tidy(context.scene.fillwright.shaping)
            self._shown.end(context)
        asking.end(context)
        redraw_sidebar()


def is_open(pairs: Any) -> bool:
    """Whether the last pair still wants its point on the finished shape."""
    return len(pairs) > 0 and pairs[-1].target is None


def add(pairs: Any, obj: bpy.types.Object, point: Vector, on_panel: bool) -> None:
    """Keep a point of the scene by the coordinates of the object that it lies on."""
    local = obj.matrix_world.inverted() @ point
    if on_panel:
        pair = pairs.add()
        pair.panel, pair.panel_point = obj, local
    else:
        pairs[-1].target, pairs[-1].target_point = obj, local


def take_back(pairs: Any) -> None:
    """Take the last point back."""
    if is_open(pairs):
        pairs.remove(len(pairs) - 1)
    elif len(pairs):
        pairs[-1].target = None


def tidy(shaping: Any) -> None:
    """Leave out pairs that are not whole, or whose objects are not those of panel and shape any more."""

    try:
        panel, target = (one.objects for one in both(shaping.id_data.fillwright))
    except SceneError:
        panel, target = (), ()
    for k in reversed(range(len(shaping.pairs))):
        if shaping.pairs[k].panel not in panel or shaping.pairs[k].target not in target:
            shaping.pairs.remove(k)


def _in_view(context: bpy.types.Context, event: bpy.types.Event) -> bool:
    """Whether the mouse is over the view and not over its sidebar or another editor."""
    def within(region: bpy.types.Region) -> bool:
        return (0 <= event.mouse_x - region.x < region.width) and (0 <= event.mouse_y - region.y < region.height)

    regions = {region.type: region for region in context.area.regions if within(region)}
    return "WINDOW" in regions and "UI" not in regions and "HEADER" not in regions


class FILLWRIGHT_OT_clear_landmarks(bpy.types.Operator):
    bl_idname = ids.CLEAR_LANDMARKS
    bl_label = "Clear Matching Points"
    bl_description = "Take all matching points away"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not len(context.scene.fillwright.shaping.pairs):
            cls.poll_message_set("No matching points are clicked")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        context.scene.fillwright.shaping.pairs.clear()
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_landmarks, FILLWRIGHT_OT_clear_landmarks)
