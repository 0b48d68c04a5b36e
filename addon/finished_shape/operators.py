"""Three ways to a finished shape where there is none yet; each makes a new object and chooses it."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.report.shape_lines import shape_lines, words
from ..child.child_operator import ChildOperator
from ..child.shape_job import AskedShape, PreparedShape, answered, located_by, panel_role, prepared
from ..map import maps
from ..names import ids
from ..names.choices import shop_unit
from ..scene.basis import objects_of
from ..scene.scene_meshes import SceneError
from .shape_object import crease_lines, plane_points, put_lines, put_plane, put_shape


class ShapeOperator(ChildOperator):
    what = "work on the shape"
    kind = ""
    shape_name = ""  # of the new object
    map_of = ""  # the role that the answer's map is of, if there is one

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if own.panel or own.panel_collection else "Choose the panel first"

    def title(self, own: Any) -> str:
        """The new object's name."""
        return self.shape_name

    def unit(self, own: Any) -> str:
        """The unit that the new shape comes in."""
        return str(own.panel_unit)

    def source(self, own: Any) -> Any:
        """The shape that it is made from, or None."""
        return None

    def take(self, context: bpy.types.Context, asked: AskedShape) -> str:
        scene, record, arrays = answered(asked)
        if "vertices" not in arrays:
            raise SceneError("the work gave no shape; try again")
        own = scene.fillwright
        record["kind"] = self.kind
        title = self.title(own)
        put_shape(scene, title, arrays, record, self.unit(own), self.source(own))
        if self.map_of:
            maps.put(scene, self.kind, arrays["map_mm"], asked.roles[self.map_of].meshes)
        self.after(scene, record, asked)
        said = words(shape_lines(record, shop_unit(scene)))
        return f"{title}: {said}" if said else f"{title} is the finished shape now"

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: AskedShape) -> None:
        """What else becomes of the answer."""


class FILLWRIGHT_OT_good_side(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.GOOD_SIDE
    bl_label = "Mirror the Good Side"
    bl_description = "Find the symmetry plane on sound metal and make the mirrored body the finished shape"
    kind, shape_name, map_of = "good_side", "Good Side", "body"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if own.shaping.body or own.panel or own.panel_collection else "Choose the body, or the panel, first"

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        shaping = own.shaping
        body = ([shaping.body], own.panel_unit) if shaping.body else panel_role(own)
        roles = {"body": body}
        if shaping.partner is not None:
            if shaping.partner in body[0]:
                raise SceneError("the same object is chosen as body and as other side; choose the good panel as body")
            roles["partner"] = ([shaping.partner], own.panel_unit)
        plane = plane_points(shaping.start)
        return prepared(context, self.kind, roles, "body", ids.ASIDE, plane=plane, locate=located_by(own))

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: AskedShape) -> None:
        put_plane(scene, record["normal"], record["offset"], asked.roles["body"].meshes)


class FILLWRIGHT_OT_carry_through(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.CARRY_THROUGH
    bl_label = "Carry Through the Damage"
    bl_description = "Continue the sound metal around the damage through it and make that the finished shape"
    kind, shape_name = "carry_through", "Carried Through"

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        panel = panel_role(own)
        _check_marked(panel[0])
        creases = crease_lines(own.shaping.creases, context.evaluated_depsgraph_get())
        lines = own.shaping.lines
        return prepared(context, self.kind, {"panel": panel}, marked="panel", creases=creases, lines=lines)

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: AskedShape) -> None:
        put_lines(scene, record["lines"])
        scene.fillwright.painted = "BARE"  # it is the panel's own metal


def _check_marked(objects: list[bpy.types.Object]) -> None:
    if not any(ids.DAMAGE in obj.vertex_groups for obj in objects):
        raise SceneError("no damage is marked yet; draw around it with Lasso, paint it, or select it")


class FILLWRIGHT_OT_as_it_was(ShapeOperator, bpy.types.Operator):
    bl_idname = idname = ids.AS_IT_WAS
    bl_label = "Take the Paint Off"
    bl_description = "Take the paint off the old scan, carry its bad spots through, and make it the finished shape"
    kind, shape_name, map_of = "as_was", "As It Was", "panel"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        if not (own.panel or own.panel_collection):
            return "Choose the panel first"
        return "" if own.shaping.old else "Choose the scan from before stripping first"

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        old = objects_of(own.shaping.old, None, "old scan")
        panel = panel_role(own)
        if old[0] in panel[0]:
            raise SceneError("the same object is chosen as panel and as old scan; choose what was scanned before")
        roles = {"old": (old, own.panel_unit), "panel": panel}
        return prepared(context, self.kind, roles, marked="old", paint_mm=own.shaping.old_paint_mm)

    def after(self, scene: bpy.types.Scene, record: dict[str, Any], asked: AskedShape) -> None:
        scene.fillwright.painted = "BARE"


CLASSES = (FILLWRIGHT_OT_good_side, FILLWRIGHT_OT_carry_through, FILLWRIGHT_OT_as_it_was)
