"""The sidebar's step Finished Shape."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.map.map_keys import MAPS
from ...core.report.shape_lines import shape_lines
from ..child.work_shown import button
from ..map.show_map import map_button
from ..marks.buttons import marks
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, TARGET, first_source, source
from ..sidebar.folding import FoldingStep, InStep, with_twins
from ..sidebar.pieces import chooser, figures, length, locate_by, named, panel_objects, unit_and_size, warnings
from ..sidebar.shown import paragraph
from .shape_object import record_of
from .shape_shown import is_shown


class FILLWRIGHT_PT_finished_shape(FoldingStep, bpy.types.Panel):
    bl_label = "Finished Shape"
    bl_order = 1
    step = "finished_shape"

    def outcome(self, context: bpy.types.Context) -> tuple[str, str]:
        """Which shape is chosen, and whether there is something to mind about it where it was made here."""
        own = context.scene.fillwright
        shape = source(own, TARGET)
        record = record_of(own.target) if own.target_collection is None else None
        return "" if shape is None else shape.name, "ERROR" if record and record["warnings"] else "NONE"

    def draw(self, context: bpy.types.Context) -> None:
        layout, own = self.layout, context.scene.fillwright
        layout.use_property_split = True
        layout.use_property_decorate = False
        way = own.shaping.way
        layout.prop(own.shaping, "way", text="")
        _DRAWN[way](layout, context, own)
        if way in _BUTTONS:
            button(layout, context, _BUTTONS[way])
            _made(layout, context, own)
        show_shape(layout, own)
        if way not in {"CARRY_THROUGH", "AS_IT_WAS"}:
            layout.row().prop(own, "painted", expand=True)
            if own.painted == "PAINTED":
                length(layout, context, own, "paint_mm")


def _have_one(layout: Any, context: bpy.types.Context, own: Any) -> None:
    if source(own, TARGET) is None:
        row = layout.row(align=True)
        row.operator(ids.IMPORT_MESH, text="Import", icon="IMPORT").role = TARGET
        row.operator(ids.TAKE_SELECTED, text="Take the Selected").role = TARGET
    chooser(layout, own, "target", "Shape")
    unit_and_size(layout, context, "target")


def _good_side(layout: Any, context: bpy.types.Context, own: Any) -> None:
    shaping = own.shaping
    panel = source(own, PANEL)
    if shaping.body is None and panel is not None:
        _chosen_by_itself(layout, "Body", panel.name, shaping, "body")
    else:
        layout.prop(shaping, "body")
    layout.prop(shaping, "partner")
    if shaping.partner is None:
        layout.prop(shaping, "good")
    layout.prop(shaping, "start")
    _start_from_points(layout)
    locate_by(layout, shaping)


def _chosen_by_itself(layout: Any, name: str, value: str, shaping: Any, role: str) -> None:
    """A field that is empty, with what is taken then."""
    layout.prop(shaping, role, text=name, placeholder=value)


def _start_from_points(layout: Any) -> None:
    row = layout.split(factor=0.4)
    row.label(text="")
    row.operator(ids.PLANE_FROM_POINTS)


def _carry_through(layout: Any, context: bpy.types.Context, own: Any) -> None:
    marks(layout, context, "DAMAGE", panel_objects(own), "Damage", True)
    button(layout, context, ids.SUGGEST_DAMAGE)
    layout.prop(own.shaping, "creases")
    row = layout.row()
    row.enabled = own.shaping.creases is None
    row.prop(own.shaping, "lines")


def _as_it_was(layout: Any, context: bpy.types.Context, own: Any) -> None:
    layout.prop(own.shaping, "old")
    length(layout, context, own.shaping, "old_paint_mm")
    if own.shaping.old is not None:
        marks(layout, context, "DAMAGE", [own.shaping.old], "Bad Spots", False)


def _from_shape(layout: Any, own: Any) -> None:
    first = first_source(own)
    if first is not None and first != source(own, TARGET):
        named(layout, "From", first.name)
    else:
        chooser(layout, own, "target", "From")


def _metal_level(layout: Any, context: bpy.types.Context, own: Any) -> None:
    _from_shape(layout, own)
    length(layout, context, own.shaping, "filler_mm")


def _build_over(layout: Any, context: bpy.types.Context, own: Any) -> None:
    paragraph(layout, "This moves gaps and trim: bring bare metal down where you can.", "ERROR")
    _from_shape(layout, own)
    length(layout, context, own.shaping, "skin_mm")


_DRAWN = {
    "HAVE_ONE": _have_one, "GOOD_SIDE": _good_side, "CARRY_THROUGH": _carry_through, "AS_IT_WAS": _as_it_was,
    "METAL_LEVEL": _metal_level, "BUILD_OVER": _build_over,
}
_BUTTONS = {
    "GOOD_SIDE": ids.GOOD_SIDE, "CARRY_THROUGH": ids.CARRY_THROUGH, "AS_IT_WAS": ids.AS_IT_WAS,
    "METAL_LEVEL": ids.METAL_LEVEL, "BUILD_OVER": ids.BUILD_OVER,
}


def show_shape(layout: Any, own: Any) -> None:
    """The button that shows the shape instead of the panel, or the panel again."""
    if source(own, TARGET) and source(own, PANEL):
        layout.operator(ids.SHOW_SHAPE, text="Show the Panel" if is_shown(own) else "Show the Shape")


def _made(layout: Any, context: bpy.types.Context, own: Any) -> None:
    """Which shape is chosen, and what is known about it where Fillwright made it."""
    shape = source(own, TARGET)
    if shape is None:
        return
    if own.shaping.way not in _FROM_SHAPE or first_source(own) != shape:
        named(layout, "In Use", shape.name)
    record = record_of(own.target) if own.target_collection is None else None
    if record is not None and record["kind"] == _KINDS[own.shaping.way]:
        changed = record["kind"] in _BY_MARKS and own.shaping.marks_changed
        if changed:
            paragraph(layout, "What follows is of the marks before: make the shape again", "ERROR")
        column = layout.column()
        column.active = not changed
        figures(column, shape_lines(record, shop_unit(context.scene)), changed)
        if record["kind"] in MAPS:
            map_button(layout, context.scene, record["kind"])
        warnings(layout, context, record["warnings"])


_FROM_SHAPE = {"METAL_LEVEL", "BUILD_OVER"}
_BY_MARKS = {"carry_through", "as_was"}
_KINDS = {way: way.lower() for way in _BUTTONS} | {"AS_IT_WAS": "as_was"}


class FILLWRIGHT_PT_body_aside(InStep, bpy.types.Panel):
    step = "finished_shape"
    bl_label = "Set Aside"
    bl_parent_id = "FILLWRIGHT_PT_finished_shape"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 0

    @classmethod
    def there(cls, context: bpy.types.Context) -> bool:
        return context.scene.fillwright.shaping.way == "GOOD_SIDE"

    def draw(self, context: bpy.types.Context) -> None:
        own = context.scene.fillwright
        objects = [own.shaping.body] if own.shaping.body else panel_objects(own)
        marks(self.layout, context, "BODY_ASIDE", objects, "On the Body", False)


CLASSES = with_twins(FILLWRIGHT_PT_finished_shape, FILLWRIGHT_PT_body_aside)
