"""The sidebar's step Line Up."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

import bpy

from ...core.report.shape_lines import line_up_lines
from ..child.work_shown import button
from ..map.show_map import map_button
from ..marks.buttons import marks
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, TARGET, source
from ..scene.lined_up import stands
from ..sidebar.folding import FoldingStep, InStep, with_twins
from ..sidebar.pieces import figures, locate_by, panel_objects, warnings
from .line_up import LEAST_PAIRS


class FILLWRIGHT_PT_line_up(FoldingStep, bpy.types.Panel):
    bl_label = "Line Up"
    bl_order = 2
    step = "line_up"

    def outcome(self, context: bpy.types.Context) -> tuple[str, str]:
        """How well the last one lies, or that none was made."""
        own = context.scene.fillwright
        if not own.shaping.line_up:
            return "as they lie" if source(own, PANEL) and source(own, TARGET) else "", "NONE"
        if not stands(own):
            return "changed since", "ERROR"
        record = _read(own.shaping.line_up)
        words = line_up_lines(record, shop_unit(context.scene))[0].value
        return words, "ERROR" if record["warnings"] else "NONE"

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        pairs = sum(pair.target is not None for pair in own.shaping.pairs)
        enough = pairs >= LEAST_PAIRS
        text = f"Line Up from {pairs} Pairs" if enough else "Line Up by Itself"
        chosen = button(layout, context, ids.LINE_UP, text=text)
        if chosen is not None:
            chosen.start = "POINTS" if enough else "ITSELF"
        row = layout.row(align=True)
        row.operator(ids.LANDMARKS, text=f"Click More Points ({pairs})" if pairs else "Click Matching Points")
        if pairs:
            row.operator(ids.CLEAR_LANDMARKS, text="", icon="X")
        locate_by(layout, own.shaping)
        _lined_up(layout, context, own)


def _lined_up(layout: Any, context: bpy.types.Context, own: Any) -> None:
    if not own.shaping.line_up:
        return
    record = _read(own.shaping.line_up)
    if not stands(own):
        layout.label(text="Changed since: line up again", icon="ERROR")
        layout = layout.column()
        layout.active = False
    figures(layout, line_up_lines(record, shop_unit(context.scene)))
    map_button(layout, context.scene, "line_up")
    warnings(layout, context, record["warnings"])


class FILLWRIGHT_PT_set_aside(InStep, bpy.types.Panel):
    step = "line_up"
    bl_label = "Set Aside"
    bl_parent_id = "FILLWRIGHT_PT_line_up"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        own = context.scene.fillwright
        marks(self.layout, context, "SET_ASIDE", panel_objects(own), "On the Panel", False)


@lru_cache(maxsize=4)
def _read(text: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(text)
    return found


CLASSES = with_twins(FILLWRIGHT_PT_line_up, FILLWRIGHT_PT_set_aside)
