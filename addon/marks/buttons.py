"""The three ways to mark a part of a mesh, as buttons."""

from __future__ import annotations

from typing import Any

import bpy

from ..names import ids
from ..sidebar.pieces import named
from .work_area import NAMES


def marks(layout: Any, context: bpy.types.Context, kind: str, objects: list[Any], name: str, wanted: bool) -> None:
    """Whether a kind of mark is there on the objects, and the three ways to make it; ``wanted``: it is needed."""
    is_marked = any(NAMES[kind] in obj.vertex_groups for obj in objects if obj is not None and obj.type == "MESH")
    named(layout, name, "marked" if is_marked else "not marked yet" if wanted else "none marked")
    row = layout.row(align=True)
    row.operator(ids.WORK_AREA_LASSO).group = kind
    if context.mode == "PAINT_WEIGHT":
        row.operator("object.mode_set", text="Painting Is Done").mode = "OBJECT"
    else:
        row.operator(ids.WORK_AREA_PAINT).group = kind
    layout.operator(ids.WORK_AREA_FROM_SELECTION).group = kind
