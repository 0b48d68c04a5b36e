"""Line Up: the panel brought onto the finished shape by its objects' transforms; no geometry is touched."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from bpy.props import EnumProperty
from mathutils import Vector

from ...core.report.shape_lines import line_up_lines, words
from ..child.child_operator import ChildOperator
from ..child.shape_job import AskedShape, PreparedShape, answered, located_by, panel_role, prepared, target_role
from ..map import maps
from ..names import ids
from ..names.choices import shop_unit
from ..scene import lined_up
from ..scene.basis import chosen, settings_of
from ..scene.moving import move
from ..scene.scene_meshes import SceneError, object_of

STARTS = [
    ("ITSELF", "by Itself", "The likely turns are tried"),
    ("POINTS", "from Points", "The matching points that were clicked give the start"),
]
LEAST_PAIRS = 3


class FILLWRIGHT_OT_line_up(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.LINE_UP
    bl_label = "Line Up"
    bl_description = "Move the panel onto the finished shape by its sound metal, without damage and what is set aside"
    what = "line-up"

    start: EnumProperty(name="Start", items=STARTS, description="Where it starts from")

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        if not ((own.panel or own.panel_collection) and (own.target or own.target_collection)):
            return "Choose the panel and the finished shape first"
        return ""

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        chosen(own)
        pairs = landmarks(own) if self.start == "POINTS" else None
        if pairs is not None and len(pairs) < LEAST_PAIRS:
            raise SceneError(f"{len(pairs)} pairs of points are clicked; three or more are wanted, far apart")
        roles = {"panel": panel_role(own), "target": target_role(own)}
        return prepared(
            context, "line_up", roles, "panel", ids.ASIDE, landmarks=pairs, locate=located_by(own),
            finish_mm=settings_of(own)["finish_mm"],
        )

    def take(self, context: bpy.types.Context, asked: AskedShape) -> str:
        scene, record, arrays = answered(asked)
        own = scene.fillwright
        objects = [obj for mesh in asked.roles["panel"].meshes if (obj := object_of(mesh)) is not None]
        if len(objects) < len(asked.roles["panel"].meshes):
            raise SceneError("the panel is gone meanwhile, so there is nothing to move; line up again")
        moved = [obj for obj, mesh in zip(objects, asked.roles["panel"].meshes, strict=True)
                 if not np.allclose(np.array(obj.matrix_world), mesh.matrix, rtol=1e-6, atol=1e-9)]
        if moved:
            raise SceneError(f"{moved[0].name} was moved meanwhile; line up again")
        move(context, objects, record["matrix"])
        own.panel_unit = own.target_unit  # the move takes it into the shape's unit, too
        if self.start == "POINTS":
            record["landmarks"] = len(landmarks(own))
        lined_up.keep(own, record)
        here = zip(objects, asked.roles["panel"].meshes, strict=True)
        maps.put(scene, "line_up", arrays["map_mm"], (replace(m, matrix=np.array(obj.matrix_world)) for obj, m in here))
        own.line_up_uncertainty_mm = min(5.0, record["uncertainty_mm"]["rms"])
        return f"Lined up: {words(line_up_lines(record, shop_unit(scene)))}"


def landmarks(own: Any) -> list[list[list[float]]]:
    """The whole pairs of points, each where it now lies in the scene."""
    found = [(p.panel.matrix_world @ Vector(p.panel_point), p.target.matrix_world @ Vector(p.target_point))
             for p in own.shaping.pairs if p.panel is not None and p.target is not None]
    return [[list(one), list(other)] for one, other in found]


CLASSES = (FILLWRIGHT_OT_line_up,)
