"""The sidebar's Weigh Up, below Finished Shape."""

from __future__ import annotations

import bpy

from ...core.report.shape_lines import weighed_heading, weighed_lines
from ..child.work_shown import button
from ..names import ids
from ..names.choices import shop_unit
from ..sidebar.folding import InStep, with_twins
from ..sidebar.pieces import figures
from .weigh_up import row as weighed_row
from .weigh_up import totals


class FILLWRIGHT_PT_weigh_up(InStep, bpy.types.Panel):
    step = "finished_shape"
    bl_label = "Weigh Up"
    bl_parent_id = "FILLWRIGHT_PT_finished_shape"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, own, unit = self.layout, context.scene.fillwright, shop_unit(context.scene)
        shaping = own.shaping
        if len(shaping.weighed):
            column = layout.column(align=True)
            heading = column.row()
            heading.active = False
            weighed_row(heading, "", weighed_heading(unit))
            rows = max(3, min(len(shaping.weighed), 6))
            column.template_list("FILLWRIGHT_UL_weighed", "", shaping, "weighed", shaping, "active_weighed", rows=rows)
        row = layout.row(align=True)
        row.operator(ids.ADD_TO_WEIGH_UP)
        row.operator(ids.TAKE_FROM_WEIGH_UP, text="", icon="REMOVE")
        if len(shaping.weighed):
            button(layout, context, ids.WEIGH_UP)
            if any(entry.rough for entry in shaping.weighed):
                layout.label(text="≈ rough, changed since: weigh up again")
            one = shaping.weighed[min(shaping.active_weighed, len(shaping.weighed) - 1)]
            if one.done:
                figures(layout, weighed_lines(totals(one), unit))


CLASSES = with_twins(FILLWRIGHT_PT_weigh_up)
