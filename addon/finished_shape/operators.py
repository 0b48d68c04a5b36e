"""Three ways to a finished shape where there is none yet; each makes a new object and chooses it."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np
from mathutils import Vector

from ...core.jobs import as_was, carry_through, good_side
from ...core.report.shape_lines import shape_lines, words
from ..child.asked import Asked, Prepared, answer_of, gather, locating
from ..child.child_operator import ChildOperator
from ..map import maps
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, Chosen, meshes_of, part, source
from ..scene.framing import seen_from
from ..scene.scene_meshes import SceneError
from .shape_object import crease_lines, plane_points, put_lines, put_plane, put_shape

_TO_THE_RIGHT = {"LEFT": -1.0, "RIGHT": 1.0}
_CLEARLY = 0.5  # the cosine between what is right in the view and the plane's normal that tells the sides apart


class ShapeOperator(ChildOperator):
    what = "work on the shape"
    shape_name = ""  # of the new object
    map_of = ""  # the role that the answer's map is of, if there is one

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if source(own, PANEL) else "Choose the panel first"

    def title(self, own: Any) -> str:
        """The new object's name."""
        return self.shape_name

    def unit(self, own: Any) -> str:
        """The unit that the new shape comes in."""
        return str(own.panel_unit)

    def made_of(self, own: Any) -> Any:
        """The shape that it is made from, or None."""
        return None

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        scene, answer = answer_of(asked)
        record, arrays = answer.record, answer.arrays
        if "vertices" not in arrays:
            raise SceneError("the work gave no shape; try again")
        refused = self.refused(record)
        if refused:
            raise SceneError(refused)
        own = scene.fillwright
        record["kind"] = asked.job
        title = self.title(own)
        put_shape(scene, title, arrays, record, self.unit(own), self.made_of(own))
        if self.map_of:
            maps.put(scene, asked.job, arrays["map_mm"], asked.meshes[self.map_of])
        self.after(scene, record, asked)
        said = words(shape_lines(record, shop_unit(scene)))
        return f"{title}: {said}" if said else f"{title} is the finished shape now"

    def refused(self, record: dict[str, Any]) -> str:
        """Why the answer can't be taken, in one sentence, or nothing."""
        return ""

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: Asked) -> None:
        """What else becomes of the answer."""


class FILLWRIGHT_OT_good_side(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.GOOD_SIDE
    bl_label = "Mirror the Good Side"
    bl_description = "Find the symmetry plane on sound metal and make the mirrored body the finished shape"
    shape_name, map_of = "Good Side", "body"
    _across: Any = None  # what is right in the view, where that says which side is good

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if own.shaping.body or source(own, PANEL) else "Choose the body, or the panel, first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own, shaping = context.scene.fillwright, context.scene.fillwright.shaping
        chosen = _alone(own, shaping.body, "body") if shaping.body else part(own, PANEL)
        body, partner = gather(context, chosen, ids.ASIDE), None
        if shaping.partner is not None:
            if shaping.partner in chosen.objects:
                raise SceneError("the same object is chosen as body and as other side; choose the good panel as body")
            partner = gather(context, _alone(own, shaping.partner, "other side")).part
        plane = plane_points(shaping.start)
        good = None if partner else self._good_side(context, chosen, body.mm)
        request = good_side.Request(body.part, partner, None if plane is None else body.mm * plane, good,
                                    locating(own), body.marks)
        return Prepared(context.scene.name, request, {"body": body.meshes})

    def _good_side(self, context: bpy.types.Context, chosen: Chosen, mm: float) -> Any:
        """A point (3,) mm on the good side, or None where it is to be found."""
        good = context.scene.fillwright.shaping.good
        if good in _TO_THE_RIGHT:
            view = seen_from(context)
            if view is None:
                raise SceneError("there is no 3D view in which a side is left or right; put the 3D cursor on the good "
                                 "side instead")
            self._across = np.array(view.col[0])
            corners = [obj.matrix_world @ Vector(corner) for obj in chosen.objects for corner in obj.bound_box]
            low, high = np.min(corners, axis=0), np.max(corners, axis=0)
            aside = _TO_THE_RIGHT[good] * float(np.linalg.norm(high - low)) * self._across
            return mm * ((low + high) / 2 + aside)
        return mm * np.array(context.scene.cursor.location) if good == "CURSOR" else None

    def refused(self, record: dict[str, Any]) -> str:
        if self._across is None or abs(self._across @ record["plane"]["normal"]) > _CLEARLY:
            return ""
        return "seen so, both sides lie to the left and to the right; look at the body from the front, rear or above"

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: Asked) -> None:
        plane = record["plane"]
        offset = plane["offset_mm"] / asked.request.body.mm_per_unit
        put_plane(scene, plane["normal"], offset, asked.meshes["body"])


def _alone(own: Any, obj: bpy.types.Object, name: str) -> Chosen:
    """One object in the panel's unit."""
    return Chosen(name, meshes_of(obj, name), own.panel_unit)


class FILLWRIGHT_OT_carry_through(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.CARRY_THROUGH
    bl_label = "Carry Through the Damage"
    bl_description = "Continue the sound metal around the damage through it and make that the finished shape"
    shape_name = "Carried Through"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own = context.scene.fillwright
        panel = gather(context, part(own, PANEL), ids.DAMAGE)
        if panel.marks is None:
            raise SceneError("no damage is marked yet; draw around it with Lasso, paint it, or select it")
        lines = crease_lines(own.shaping.creases, context.evaluated_depsgraph_get())
        creases = tuple(panel.mm * line for line in lines)
        request = carry_through.Request(panel.part, panel.marks, creases, own.shaping.lines)
        return Prepared(context.scene.name, request, {"panel": panel.meshes})

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: Asked) -> None:
        mm = asked.request.panel.mm_per_unit
        for name, lines in ((ids.LINES, record["lines_mm"]), (ids.NUMBERS, record["numbers_mm"])):
            put_lines(scene, name, [np.array(line) / mm for line in lines])
        _of_its_marks(scene)


def _of_its_marks(scene: bpy.types.Scene) -> None:
    """A shape was made by the marks as they are now, and is the panel's own metal."""
    scene.fillwright.painted, scene.fillwright.shaping.marks_changed = "BARE", False


class FILLWRIGHT_OT_as_it_was(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.AS_IT_WAS
    bl_label = "Take the Paint Off"
    bl_description = "Take the paint off the old scan, carry its bad spots through, and make it the finished shape"
    shape_name, map_of = "As It Was", "panel"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        if source(own, PANEL) is None:
            return "Choose the panel first"
        return "" if own.shaping.old else "Choose the scan from before stripping first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own = context.scene.fillwright
        chosen, panel = _alone(own, own.shaping.old, "old scan"), gather(context, part(own, PANEL))
        if chosen.objects[0] in part(own, PANEL).objects:
            raise SceneError("the same object is chosen as panel and as old scan; choose what was scanned before")
        old = gather(context, chosen, ids.DAMAGE)
        request = as_was.Request(old.part, panel.part, own.shaping.old_paint_mm, old.marks)
        return Prepared(context.scene.name, request, {"old": old.meshes, "panel": panel.meshes})

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: Asked) -> None:
        _of_its_marks(scene)


CLASSES = (FILLWRIGHT_OT_good_side, FILLWRIGHT_OT_carry_through, FILLWRIGHT_OT_as_it_was)
