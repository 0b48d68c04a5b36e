"""The maps of the sides, the old filler and the line-up, each shown and put away by one button."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import EnumProperty

from ...core.map.map_keys import MAPS, TITLES
from ..names import ids
from . import maps

_TELLS = {
    "good_side": "How far the body's two sides lie apart",
    "as_was": "How thick the old filler was that lay on the panel",
    "line_up": "How uncertain the line-up leaves the depth",
}
NAMES = {kind: f"{TITLES[kind]} {ids.MAP}" for kind in MAPS}
_KINDS = [(kind, NAMES[kind], _TELLS[kind]) for kind in MAPS]


class FILLWRIGHT_OT_show_map(bpy.types.Operator):
    bl_idname = ids.SHOW_MAP
    bl_label = "Show a Map"
    bl_description = "Show what was found out at each place in colours, or give back your own shading"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(name="Map", items=_KINDS, description="Which map is shown")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if not any(maps.holders(context.scene, kind) for kind in MAPS):
            cls.poll_message_set("Mirror the good side, take the paint off, or line up first")
            return False
        return True

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        return f"{_TELLS[properties.kind]}, shown in colours; or give back your own shading"

    def execute(self, context: bpy.types.Context) -> set[str]:
        holding = maps.holders(context.scene, self.kind)
        if not holding:
            self.report({"ERROR"}, f"There is no {NAMES[self.kind].lower()} yet; make the shape, or line up, first")
            return {"CANCELLED"}
        if any(obj.mode == "EDIT" for obj in holding):
            self.report({"ERROR"}, "Leave edit mode first")
            return {"CANCELLED"}
        maps.show(context.scene, "" if maps.is_shown(context.scene.fillwright, self.kind) else self.kind)
        return {"FINISHED"}


def map_button(layout: Any, scene: bpy.types.Scene, kind: str) -> None:
    """The button of a map, grey where there is none yet."""
    row = layout.row()
    row.enabled = bool(maps.holders(scene, kind))
    row.operator(ids.SHOW_MAP, text=NAMES[kind], depress=maps.is_shown(scene.fillwright, kind)).kind = kind


CLASSES = (FILLWRIGHT_OT_show_map,)
