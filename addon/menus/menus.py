"""Fillwright's menu in the 3D view's header: search (F3) finds only what some menu holds."""

from __future__ import annotations

import bpy

from ..map.show_map import NAMES
from ..names import ids


class VIEW3D_MT_fillwright(bpy.types.Menu):
    bl_label = "Fillwright"

    def draw(self, _context: bpy.types.Context) -> None:
        for number, group in enumerate(ids.MENU):
            if number:
                self.layout.separator()
            for name in group:
                label = ids.MENU_LABELS.get(name)
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
