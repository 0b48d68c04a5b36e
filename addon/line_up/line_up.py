"""Line Up: the panel brought onto the finished shape by its objects' transforms; no geometry is touched."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from bpy.props import EnumProperty
from mathutils import Vector

from ...core.jobs.line_up import Request
from ...core.jobs.part import LiningUp, between_units
from ...core.report.shape_lines import line_up_lines, words
from ..child.asked import Asked, Prepared, answer_of, gather, locating
from ..child.child_operator import ChildOperator
from ..map import maps
from ..names import ids
from ..names.choices import shop_unit
from ..scene import lined_up
from ..scene.basis import whole_settings
from ..scene.chosen import PANEL, TARGET, both, source
from ..scene.framing import frame_objects
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
        return "" if source(own, PANEL) and source(own, TARGET) else "Choose the panel and the finished shape first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own = context.scene.fillwright
        scan, shape = both(own)
        pairs = landmarks(own) if self.start == "POINTS" else None
        if pairs is not None and len(pairs) < LEAST_PAIRS:
            raise SceneError(f"{len(pairs)} pairs of points are clicked; three or more are wanted, far apart")
        panel, target = gather(context, scan, ids.ASIDE), gather(context, shape)
        points = None if pairs is None else np.array(pairs) * np.array([[panel.mm], [target.mm]])
        asked = LiningUp(points, locating(own), panel.marks)
        request = Request(panel.part, target.part, asked, whole_settings(own).finish_mm)
        return Prepared(context.scene.name, request, {"panel": panel.meshes})

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        scene, answer = answer_of(asked)
        own, record, meshes = scene.fillwright, answer.record, asked.meshes["panel"]
        objects = [obj for mesh in meshes if (obj := object_of(mesh)) is not None]
        if len(objects) < len(meshes):
            raise SceneError("the panel is gone meanwhile, so there is nothing to move; line up again")
        moved = [obj for obj, mesh in zip(objects, meshes, strict=True)
                 if not np.allclose(np.array(obj.matrix_world), mesh.matrix, rtol=1e-6, atol=1e-9)]
        if moved:
            raise SceneError(f"{moved[0].name} was moved meanwhile; line up again")
        units = (part.mm_per_unit for part in (asked.request.panel, asked.request.target))
        move(context, objects, between_units(np.array(record["matrix"]), *units))
        if scene == context.scene:
            frame_objects(context, objects)
        own.panel_unit = own.target_unit  # the move takes it into the shape's unit, too
        if self.start == "POINTS":
            record["landmarks"] = len(landmarks(own))
        lined_up.keep(own, record)
        here = (replace(m, matrix=np.array(obj.matrix_world)) for obj, m in zip(objects, meshes, strict=True))
        maps.put(scene, asked.job, answer.arrays["map_mm"], here)
        self._doubt = next(iter(record["warnings"]), "")
        own.line_up_uncertainty_mm = min(5.0, record["uncertainty_mm"]["rms"])
        return f"Lined up: {words(line_up_lines(record, shop_unit(scene)))}"


def landmarks(own: Any) -> list[list[list[float]]]:
    """The whole pairs of points, each where it now lies in the scene."""
    found = [(p.panel.matrix_world @ Vector(p.panel_point), p.target.matrix_world @ Vector(p.target_point))
             for p in own.shaping.pairs if p.panel is not None and p.target is not None]
    return [[list(one), list(other)] for one, other in found]


CLASSES = (FILLWRIGHT_OT_line_up,)
