"""Fillwright's menu in the 3D view's header: search (F3) finds only what some menu holds."""

from __future__ import annotations

import bpy

from . import ids

_ENTRIES: tuple[tuple[str, ...], ...] = (
    (ids.LOAD_SAMPLE, ids.SET_SIZE),
    (ids.WORK_AREA_LASSO, ids.WORK_AREA_PAINT, ids.WORK_AREA_FROM_SELECTION),
    (ids.PLAN, ids.GO_TO_AREA),
    (ids.FILL_MAP, ids.READ_DEPTH, ids.CHALK_IT, ids.MAKE_FILL, ids.PICTURE),
)
_LABELS = {
    ids.WORK_AREA_LASSO: "Work Area: Lasso",
    ids.WORK_AREA_PAINT: "Work Area: Paint",
    ids.WORK_AREA_FROM_SELECTION: "Work Area: From Selection",
}


class VIEW3D_MT_fillwright(bpy.types.Menu):
    bl_label = "Fillwright"

    def draw(self, _context: bpy.types.Context) -> None:
        for number, group in enumerate(_ENTRIES):
            if number:
                self.layout.separator()
            for name in group:
                label = _LABELS.get(name)
                if label:
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
