"""What the steps of the sidebar are put together from."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import bpy

from ...core.report.window_words import in_window
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import PANEL, things
from ..state.in_inches import twin
from .shown import paragraph, size_of, wrapped

_NAMES = 0.4  # of the width, for the names of figures


class Step:
    """Where every step of the sidebar sits."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = ids.CATEGORY


def chooser(layout: Any, own: Any, role: str, name: str) -> None:
    """One object, or a collection instead of it."""
    obj, collection = getattr(own, role), getattr(own, f"{role}_collection")
    if collection is None:
        whole_width(layout, own, role, name)
    if obj is None or collection is not None:
        whole_width(layout, own, f"{role}_collection", "or Collection" if collection is None else name)


def whole_width(layout: Any, own: Any, role: str, name: str) -> None:
    """A field without words beside it, so that a long name fits; ``name`` stands in it while it is empty."""
    row = layout.row()
    row.use_property_split = False
    row.prop(own, role, text="", placeholder=name)


def length(layout: Any, context: bpy.types.Context, group: Any, name: str) -> None:
    """A setting of ``group`` that is kept in mm, in the shop's unit."""
    layout.prop(group, twin(name) if shop_unit(context.scene) == "inch" else name)


def unit_and_size(layout: Any, context: bpy.types.Context, role: str) -> None:
    """The declared unit with the overall size that it makes, and a warning where no panel is of that size."""
    own = context.scene.fillwright
    unit = getattr(own, f"{role}_unit")
    layout.prop(own, f"{role}_unit")
    size, warning = size_of(context.scene, things(own, role), unit)
    if size:
        named(layout, "Size", size, "ERROR" if warning else "NONE")
    if warning:
        paragraph(layout, warning, "ERROR")


def named(layout: Any, name: str, value: str, icon: str = "NONE") -> None:
    """A name and a figure, in the two columns that properties have."""
    split = layout.split(factor=_NAMES)
    left = split.row()
    left.alignment = "RIGHT"
    left.label(text=name)
    split.label(text=value, icon=icon)


def locate_by(layout: Any, shaping: Any) -> None:
    """What holds a near-flat or round panel along itself."""
    row = layout.row(heading="Locate by", align=True)
    row.prop(shaping, "by_holes", toggle=True)
    row.prop(shaping, "by_rims", toggle=True)


def warnings(layout: Any, context: bpy.types.Context, sentences: Iterable[str]) -> None:
    """Core's warnings as the window says them, each with a sign before it."""
    for text in sentences:
        said = in_window(text, shop_unit(context.scene))
        paragraph(layout, said[:1].upper() + said[1:], "ERROR")


def panel_objects(own: Any) -> list[Any]:
    """The panel's objects."""
    return things(own, PANEL)


def figures(layout: Any, lines: tuple[Any, ...], greyed: bool = False) -> None:
    """Lines of core's words, each with what goes with it in grey below; ``greyed``: all of it is grey already."""
    for line in lines:
        column = layout.column(align=True)
        column.scale_y = 0.9
        named(column, line.name, line.value)
        for part in wrapped(line.more, 1.0 - _NAMES) if line.more else ():
            row = column.row()
            row.active = greyed  # within a greyed column, inactive would stand out again
            named(row, "", part)
