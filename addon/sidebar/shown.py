"""The plan in words for the sidebar, worked out once a plan and not at each drawing."""

from __future__ import annotations

import json
import textwrap
from dataclasses import dataclass
from functools import lru_cache

import bpy

from ...core.legend.shop_units import overall_size, size_warning, sizes_mm
from ...core.report.plan_lines import (
    Line,
    area_figures,
    area_heading,
    caution_groups,
    condition_details,
    condition_lines,
    result_lines,
)
from ...core.report.window_words import in_window
from ..names.choices import shop_unit
from ..scene.scene_meshes import mm_per_unit

_LETTER_PX = 6.6  # of Blender's own font at scale 1, on the average
_MARGIN_PX = 60


@dataclass(frozen=True)
class Shown:
    """What the sidebar says about one plan."""

    results: tuple[Line, ...]
    condition: tuple[Line, ...]
    details: tuple[str, ...]
    warnings: tuple[str, ...]
    cautions: tuple[tuple[str, tuple[str, ...]], ...]
    heading: tuple[str, ...]
    areas: tuple[tuple[str, ...], ...]


_last: dict[tuple[str, str], Shown] = {}


def shown(scene: bpy.types.Scene) -> Shown | None:
    """The scene's plan in words, or None where there is none."""
    own, unit = scene.fillwright, shop_unit(scene)
    if not own.plan_id:
        return None
    key = (own.plan_id, unit)
    if key not in _last:
        record = json.loads(own.record)
        while len(_last) > 8:
            del _last[next(iter(_last))]
        kind = record["material"].get("kind", "filler")  # a file saved before it was kept counts passes
        _last[key] = Shown(
            result_lines(record, unit), condition_lines(record, unit), condition_details(record, unit),
            tuple(map(in_window, record["warnings"])), caution_groups(record),
            area_heading(unit, kind), tuple(area_figures(area, kind, unit) for area in record["areas"]),
        )
    return _last[key]


def size_of(
    scene: bpy.types.Scene, objects: list[bpy.types.Object], unit: str
) -> tuple[str, str]:
    """The overall size of what is chosen, and a warning where it is no panel's; both empty where nothing is chosen."""
    corners = [o.matrix_world @ _vector(corner) for o in objects if o.type == "MESH" for corner in o.bound_box]
    if not corners:
        return "", ""
    sizes = sizes_mm(corners, mm_per_unit(scene, unit))
    return overall_size(sizes, shop_unit(scene)), size_warning(sizes)


def _vector(corner: bpy.types.bpy_prop_array) -> object:
    from mathutils import Vector

    return Vector(corner)


def paragraph(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: str = "NONE") -> None:
    """``text`` on as many lines as the sidebar's width takes; the icon before the first."""
    scale = context.preferences.system.ui_scale
    letters = max(18, int((context.region.width / scale - _MARGIN_PX) / _LETTER_PX))
    column = layout.column(align=True)
    column.scale_y = 0.85
    for number, line in enumerate(_wrapped(text, letters)):
        column.label(text=line, icon=icon if number == 0 else ("NONE" if icon == "NONE" else "BLANK1"))


@lru_cache(maxsize=256)
def _wrapped(text: str, letters: int) -> tuple[str, ...]:
    return tuple(textwrap.wrap(text, letters))
