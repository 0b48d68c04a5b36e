"""The sidebars, or the whole of the 3D views, drawn again."""

from __future__ import annotations

import bpy


def redraw_sidebar() -> None:
    """Draw the sidebars again, and not the meshes; twice, as Blender lays panels out by the drawing before."""
    _redraw()
    if not bpy.app.background and not bpy.app.timers.is_registered(_redraw):
        bpy.app.timers.register(_redraw, first_interval=0.25)


def redraw_views() -> None:
    """Draw everything in the 3D views again."""
    redraw_sidebar()
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def _redraw() -> None:
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            for region in area.regions if area.type == "VIEW_3D" else ():
                if region.type == "UI":
                    region.tag_redraw()
