"""Weigh Up: several finished shapes against one panel, side by side."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.jobs.weigh_up import Request
from ...core.report.shape_lines import weighed_figures
from ..blender.redraw import redraw_sidebar
from ..child.asked import Asked, Prepared, answer_of, gather
from ..child.child_operator import ChildOperator
from ..names import ids
from ..names.choices import materials_file, shop_unit
from ..scene.basis import whole_settings
from ..scene.chosen import NO_WORK_AREA, PANEL, Chosen, part, source, things
from ..scene.lined_up import placing
from ..scene.scene_meshes import SceneError, object_of

FIELDS = ("rough", "fill_mm3", "high_mm3", "deepest_mm", "laid_mass_g", "packs", "pack_word", "too_deep_mm2",
          "new_metal_mm2")


class FILLWRIGHT_UL_weighed(bpy.types.UIList):
    bl_idname = "FILLWRIGHT_UL_weighed"

    def draw_item(
        self, context: Any, layout: Any, _data: Any, item: Any, _icon: int, _active: Any, _property: str, _index: int
    ) -> None:
        name = item.shape.name if item.shape is not None else "gone"
        if not item.done:
            layout.label(text=name)
            return
        unit = shop_unit(context.scene)
        row(layout, name, weighed_figures(item.fill_mm3, item.laid_mass_g, item.packs, item.rough, unit))


def row(layout: Any, name: str, figures: tuple[str, str, str]) -> None:
    """One row of the list: a name and three figures, each in a column of its own."""
    split = layout.split(factor=0.36)
    split.label(text=name)
    for width, text in zip((0.4, 0.56, 1.0), figures, strict=True):
        cell = split if width == 1.0 else (split := split.split(factor=width))
        place = cell.row()
        place.alignment = "RIGHT"
        place.label(text=text)


def totals(item: Any) -> dict[str, Any]:
    """An entry's totals by core's names."""
    return {name: getattr(item, name) for name in FIELDS}


def prepare(context: bpy.types.Context, entries: list[Any], rough: bool) -> Prepared:
    """What is asked for ``entries`` of the list."""
    own = context.scene.fillwright
    shapes = [entry.shape for entry in entries if entry.shape is not None]
    if not shapes:
        raise SceneError("no shape is in the list; add the finished shapes that are to be weighed up")
    chosen = part(own, PANEL)
    same = next((obj.name for obj in shapes if obj in chosen.objects), None)
    if same is not None:
        raise SceneError(f"{same} is the panel itself; take it from the list")
    panel = gather(context, chosen, ids.WORK_AREA if own.use_work_area else "")
    if own.use_work_area and panel.marks is None:
        raise SceneError(NO_WORK_AREA)
    weighed = {obj.name: gather(context, Chosen(obj.name, (obj,), own.target_unit)) for obj in shapes}
    request = Request(
        panel.part, {name: one.part for name, one in weighed.items()}, whole_settings(own), materials_file() or None,
        panel.marks, placing=placing(own), rough=rough,
    )
    return Prepared(context.scene.name, request, {"shapes": tuple(one.meshes[0] for one in weighed.values())})


def take(asked: Asked) -> int:
    """Put the totals into the list; how many shapes there were."""
    scene, answer = answer_of(asked)
    record = answer.record
    found = dict(zip((object_of(mesh) for mesh in asked.meshes["shapes"]), record["shapes"], strict=True))
    for entry in scene.fillwright.shaping.weighed:
        one = found.get(entry.shape)
        if entry.shape is not None and one is not None:
            for name in FIELDS:
                setattr(entry, name, one[name])
            entry.done = True
    return len(record["shapes"])


class FILLWRIGHT_OT_weigh_up(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.WEIGH_UP
    bl_label = "Weigh Up"
    bl_description = "Work out fill, mass, packs and depth of each shape in the list for the panel"
    what = "weighing up"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        if source(own, PANEL) is None:
            return "Choose the panel first"
        return "" if len(own.shaping.weighed) else "Add finished shapes to the list first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        return prepare(context, list(context.scene.fillwright.shaping.weighed), rough=False)

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        count = take(asked)
        return f"{count} shape{'' if count == 1 else 's'} weighed up"


class FILLWRIGHT_OT_add_to_weigh_up(bpy.types.Operator):
    bl_idname = ids.ADD_TO_WEIGH_UP
    bl_label = "Add Shapes"
    bl_description = "Add the selected meshes, or else the finished shape, to the list"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        own = context.scene.fillwright
        panel = things(own, PANEL)
        chosen = [obj for obj in context.selected_objects
                  if obj.type == "MESH" and not obj.get(ids.RESULT) and obj not in panel]
        chosen = chosen or ([own.target] if own.target is not None else [])
        if not chosen:
            self.report({"ERROR"}, "No finished shape is selected; select the meshes to weigh up")
            return {"CANCELLED"}
        known = {entry.shape for entry in own.shaping.weighed}
        for obj in chosen:
            if obj not in known:
                own.shaping.weighed.add().shape = obj
        redraw_sidebar()
        return {"FINISHED"}


class FILLWRIGHT_OT_take_from_weigh_up(bpy.types.Operator):
    bl_idname = ids.TAKE_FROM_WEIGH_UP
    bl_label = "Take from the List"
    bl_description = "Take the chosen shape from the list; the object itself stays"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not len(context.scene.fillwright.shaping.weighed):
            cls.poll_message_set("The list is empty")
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[str]:
        shaping = context.scene.fillwright.shaping
        shaping.weighed.remove(min(shaping.active_weighed, len(shaping.weighed) - 1))
        shaping.active_weighed = max(0, shaping.active_weighed - 1)
        return {"FINISHED"}


CLASSES = (
    FILLWRIGHT_UL_weighed, FILLWRIGHT_OT_weigh_up, FILLWRIGHT_OT_add_to_weigh_up, FILLWRIGHT_OT_take_from_weigh_up,
)
