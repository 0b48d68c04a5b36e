"""The plan in words for the sidebar, worked out once a plan and not at each drawing."""

from __future__ import annotations

import json
import textwrap
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import bpy
import numpy as np

from ...core.legend.own_size import own_sizes
from ...core.legend.shop_units import overall_size, size_warning
from ...core.legend.texts import cut_short
from ...core.report.plan_lines import (
    Line,
    area_figures,
    area_heading,
    caution_groups,
    condition_details,
    condition_lines,
    first_lines,
    result_lines,
)
from ..names.choices import shop_unit
from ..scene.scene_meshes import mm_per_unit

_LETTER_PX = 6.6  # of Blender's own font at scale 1, on the average
_MARGIN_PX = 60
_HEADER_LETTERS = 5  # the arrow and the handle of a header take so many more


@dataclass(frozen=True)
class Shown:
    """What the sidebar says about one plan."""

    first: tuple[Line, ...]
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
            first_lines(record, unit), result_lines(record, unit),
            condition_lines(record, unit), condition_details(record, unit),
            tuple(record["warnings"]), caution_groups(record),
            area_heading(unit, kind), tuple(area_figures(area, kind, unit) for area in record["areas"]),
        )
    return _last[key]


def size_of(
    scene: bpy.types.Scene, objects: list[bpy.types.Object], unit: str
) -> tuple[str, str]:
    """The overall size of what is chosen, as a tape would say, and a warning where it is no panel's; both empty where
    nothing is chosen."""
    meshes = tuple(obj for obj in objects if obj.type == "MESH")
    sizes = _sizes(meshes)
    if sizes is None:
        return "", ""
    mm = mm_per_unit(scene, unit)
    in_mm = (sizes[0] * mm, sizes[1] * mm, sizes[2] * mm)
    return overall_size(in_mm, shop_unit(scene)), size_warning(in_mm)


_measured: dict[object, tuple[float, float, float]] = {}


def _sizes(meshes: tuple[bpy.types.Object, ...]) -> tuple[float, float, float] | None:
    """Of all vertices together, worked out anew only where a mesh, its box or its place is another."""
    key = tuple((obj.session_uid, len(obj.data.vertices), *map(tuple, obj.matrix_world), *map(tuple, obj.bound_box))
                for obj in meshes)
    if key not in _measured:
        points = [_points(obj) for obj in meshes if len(obj.data.vertices)]
        if not points:
            return None
        while len(_measured) > 8:
            del _measured[next(iter(_measured))]
        _measured[key] = own_sizes(np.concatenate(points))
    return _measured[key]


def _points(obj: bpy.types.Object) -> Any:
    """Its vertices (k, 3) in the world, as the viewport shows them."""
    mesh, matrix = obj.evaluated_get(bpy.context.evaluated_depsgraph_get()).data, np.array(obj.matrix_world)
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    return points.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]


def paragraph(layout: bpy.types.UILayout, text: str, icon: str = "NONE") -> None:
    """``text`` on as many lines as the sidebar's width takes; the icon before the first."""
    column = layout.column(align=True)
    column.scale_y = 0.85
    for number, line in enumerate(wrapped(text)):
        column.label(text=line, icon=icon if number == 0 else ("NONE" if icon == "NONE" else "BLANK1"))


def wrapped(text: str, share: float = 1.0) -> tuple[str, ...]:
    """``text`` in lines for a ``share`` of the width of the region that is drawn."""
    return _wrapped(text, max(12, int(share * _letters())))


def shortened(text: str, beside: int) -> str:
    """``text`` as far as it fits on one line beside ``beside`` letters, in the region that is drawn.

    Words in a panel's header would else be drawn over its name.
    """
    return cut_short(text, max(4, int(_letters()) - beside - _HEADER_LETTERS))


def _letters() -> float:
    context = bpy.context
    return (context.region.width / context.preferences.system.ui_scale - _MARGIN_PX) / _LETTER_PX


@lru_cache(maxsize=256)
def _wrapped(text: str, letters: int) -> tuple[str, ...]:
    return tuple(textwrap.wrap(text, letters))
