"""Plan the Fill: from the scene to what is asked, and from the answer back to the scene."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace

import bpy

from ...core.jobs.plan import Request
from ..child.asked import Asked, Prepared, answer_of, gather
from ..names import ids
from ..names.choices import materials_file, shop_unit
from ..scene import staleness
from ..scene.basis import made_from, made_with, whole_settings
from ..scene.chosen import NO_WORK_AREA, both
from ..scene.lined_up import placing
from ..scene.scene_meshes import SceneError
from ..state.scene_state import FillwrightScene
from . import results


@dataclass(frozen=True)
class AskedPlan(Asked):
    """A plan that is asked for, with what it is made with and made from, so that it can be told later whether it still
    holds; ``mm_per_unit`` of the panel."""

    made_with: str
    made_from: str
    mm_per_unit: float


@dataclass(frozen=True)
class PreparedPlan(Prepared):
    """A plan prepared: ``request`` without what takes long to find out."""

    made_with: str

    def lay_out(self) -> AskedPlan:
        request: Request = self.request
        panel, target = self.meshes["panel"], self.meshes["target"]
        mark = made_from(target)  # a text that only the same finished shape has
        before = request.before if request.before and request.before["target"]["sha256"] == mark else None
        shape = replace(request.target, source=replace(request.target.source, sha256=mark))
        request = replace(request, target=shape, before=before)
        asked = Prepared(self.scene, request, self.meshes).lay_out()
        whole = made_from((*panel, *target))
        return AskedPlan(asked.child, request, asked.scene, asked.meshes, self.made_with, whole,
                         request.panel.mm_per_unit)


def prepare(context: bpy.types.Context) -> PreparedPlan:
    """The scene's meshes and settings, or SceneError where there is something for the user to put right."""
    own: FillwrightScene = context.scene.fillwright
    chosen, shape = both(own)
    panel = gather(context, chosen, ids.WORK_AREA if own.use_work_area else "")
    target = gather(context, shape)
    if own.use_work_area and panel.marks is None:
        raise SceneError(NO_WORK_AREA)
    request = Request(
        panel.part, target.part, whole_settings(own), materials_file() or None, panel.marks,
        placing=placing(own), before=json.loads(own.record) if own.record else None, unit=shop_unit(context.scene),
    )
    return PreparedPlan(context.scene.name, request, {"panel": panel.meshes, "target": target.meshes},
                        made_with(context.scene))


def take(context: bpy.types.Context, asked: AskedPlan) -> str:
    """Put the child's answer into the scene that asked; one sentence for the status bar."""
    scene, answer = answer_of(asked)
    said = results.put(scene, answer.record, answer.arrays, asked.meshes["panel"])
    own = scene.fillwright
    own.made_with, own.made_from, own.planned_mm_per_unit = asked.made_with, asked.made_from, asked.mm_per_unit
    staleness.look_again(scene, context.evaluated_depsgraph_get())
    return said
