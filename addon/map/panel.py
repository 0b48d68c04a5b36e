"""The sidebar's last step, Fill Map: what to do with a plan that is there."""

from __future__ import annotations

import bpy

from ..child.work_shown import button
from ..names import ids
from ..sidebar.pieces import Step
from . import maps


class FILLWRIGHT_PT_fill_map(Step, bpy.types.Panel):
    bl_label = "Fill Map"
    bl_order = 4

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        row = layout.row()
        row.scale_y = 1.3
        row.operator(ids.FILL_MAP, depress=maps.is_shown(own, maps.FILL))
        column = layout.column(align=True)
        column.operator(ids.READ_DEPTH)
        column.operator(ids.CHALK_IT)
        layout.operator(ids.MAKE_FILL)
        button(layout, context, ids.PICTURE, scale=1.0)


CLASSES = (FILLWRIGHT_PT_fill_map,)
