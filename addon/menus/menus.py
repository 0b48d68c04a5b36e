"""Fillwright's menu in the 3D view's header: search (F3) finds only what some menu holds."""

from __future__ import annotations

import bpy

from ..map.show_map import NAMES
from ..names import ids

_ENTRIES: tuple[tuple[str, ...], ...] = (
    (ids.LOAD_SAMPLE, ids.LOAD_BONNET, ids.SET_SIZE),
    (ids.WORK_AREA_LASSO, ids.WORK_AREA_PAINT, ids.WORK_AREA_FROM_SELECTION),
    (ids.GOOD_SIDE, ids.PLANE_FROM_POINTS, ids.SUGGEST_DAMAGE, ids.CARRY_THROUGH, ids.AS_IT_WAS, ids.METAL_LEVEL,
     ids.BUILD_OVER, ids.SHOW_SHAPE),
    (ids.LINE_UP, ids.LANDMARKS, ids.CLEAR_LANDMARKS),
    (ids.ADD_TO_WEIGH_UP, ids.TAKE_FROM_WEIGH_UP, ids.WEIGH_UP),
    (ids.PLAN, ids.GO_TO_AREA),
    (ids.FILL_MAP, ids.SHOW_MAP, ids.READ_DEPTH, ids.CHALK_IT, ids.MAKE_FILL, ids.PICTURE),
)
_LABELS = {
    ids.WORK_AREA_LASSO: "Work Area: Lasso",
    ids.WORK_AREA_PAINT: "Work Area: Paint",
    ids.WORK_AREA_FROM_SELECTION: "Work Area: From Selection",
    ids.GOOD_SIDE: "Shape: Mirror the Good Side",
    ids.PLANE_FROM_POINTS: "Symmetry Plane: From 3 Points",
    ids.CARRY_THROUGH: "Shape: Carry Through the Damage",
    ids.AS_IT_WAS: "Shape: As It Was, Paint Taken Off",
    ids.METAL_LEVEL: "Shape: Metal Level, Set In by the Filler",
    ids.BUILD_OVER: "Shape: Build Over, Moved Out",
    ids.SUGGEST_DAMAGE: "Carry Through: Suggest from Curvature",
    ids.ADD_TO_WEIGH_UP: "Weigh Up: Add Shapes",
    ids.TAKE_FROM_WEIGH_UP: "Weigh Up: Take from the List",
}


class VIEW3D_MT_fillwright(bpy.types.Menu):
    bl_label = "Fillwright"

    def draw(self, _context: bpy.types.Context) -> None:
        for number, group in enumerate(_ENTRIES):
            if number:
                self.layout.separator()
            for name in group:
                label = _LABELS.get(name)
                if name == ids.SHOW_MAP:
                    for kind, title in NAMES.items():
                        self.layout.operator(name, text=title).kind = kind
                elif label:
                    self.layout.operator(name, text=label)
                else:
                    self.layout.operator(name)


def _in_header(self: bpy.types.Menu, _context: bpy.types.Context) -> None:
    self.layout.menu(VIEW3D_MT_fillwright.__name__)


CLASSES = (VIEW3D_MT_fillwright,)


def register() -> None:
    bpy.types.VIEW3D_MT_editor_menus.append(_in_header)


def unregister() -> None:
    bpy.types.VIEW3D_MT_editor_menus.remove(_in_header)
