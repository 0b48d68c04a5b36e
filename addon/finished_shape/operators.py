"""Three ways to a finished shape where there is none yet; each makes a new object and chooses it."""

from __future__ import annotations

from typing import Any

import bpy
import numpy as np

from ...core.jobs import as_was, carry_through, good_side
from ...core.report.shape_lines import shape_lines, words
from ..child.asked import Asked, Prepared, answer_of, gather, locating
from ..child.child_operator import ChildOperator
from ..map import maps
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, Chosen, meshes_of, part, source
from ..scene.scene_meshes import SceneError
from .shape_object import crease_lines, plane_points, put_lines, put_plane, put_shape


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
        own = scene.fillwright
        record["kind"] = asked.job
        title = self.title(own)
        put_shape(scene, title, arrays, record, self.unit(own), self.made_of(own))
        if self.map_of:
            maps.put(scene, asked.job, arrays["map_mm"], asked.meshes[self.map_of])
        self.after(scene, record, asked)
        said = words(shape_lines(record, shop_unit(scene)))
        return f"{title}: {said}" if said else f"{title} is the finished shape now"

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: Asked) -> None:
        """What else becomes of the answer."""


class FILLWRIGHT_OT_good_side(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.GOOD_SIDE
    bl_label = "Mirror the Good Side"
    bl_description = "Find the symmetry plane on sound metal and make the mirrored body the finished shape"
    shape_name, map_of = "Good Side", "body"

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
        good = body.mm * np.array(context.scene.cursor.location) if shaping.good == "CURSOR" and not partner else None
        request = good_side.Request(body.part, partner, None if plane is None else body.mm * plane, good,
                                    locating(own), body.marks)
        return Prepared(context.scene.name, request, {"body": body.meshes})

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
        put_lines(scene, [np.array(line) / mm for line in record["lines_mm"]])
        scene.fillwright.painted = "BARE"  # it is the panel's own metal


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
        scene.fillwright.painted = "BARE"


CLASSES = (FILLWRIGHT_OT_good_side, FILLWRIGHT_OT_carry_through, FILLWRIGHT_OT_as_it_was)
