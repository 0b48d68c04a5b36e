"""Whether the last line-up still stands, and what it is worth for a plan."""

from __future__ import annotations

import json
from typing import Any

import bpy

from .chosen import PANEL, TARGET, things
from .scene_meshes import mm_per_unit


def keep(own: Any, record: dict[str, Any]) -> None:
    """Keep a line-up's answer with what it holds for: the objects chosen, where they stand, and their units."""
    shaping = own.shaping
    shaping.line_up, shaping.lined_up = json.dumps(record), _where(own)
    shaping.lined_up_objects.clear()
    for obj in _objects(own):
        shaping.lined_up_objects.add().obj = obj


def stands(own: Any) -> bool:
    """Whether there is a line-up, and the same objects are where it left them."""
    shaping = own.shaping
    if not shaping.line_up or shaping.lined_up != _where(own):
        return False
    return [entry.obj for entry in shaping.lined_up_objects] == _objects(own)


def placing(own: Any) -> dict[str, Any] | None:
    """How well the panel is placed, for a plan that goes by the line-up; None where one figure is taken for it."""
    if not (own.line_up_by_place and stands(own)):
        return None
    found: dict[str, Any] | None = json.loads(own.shaping.line_up).get("placing")  # none in files from before
    return found


def _objects(own: Any) -> list[bpy.types.Object]:
    """Panel and shape, each its collection's objects where one is chosen."""
    return [obj for role in (PANEL, TARGET) for obj in things(own, role)]


def _where(own: Any) -> str:
    """Where panel and shape stand, and in what units, as a text to compare."""
    units = [round(mm_per_unit(own.id_data, unit), 9) for unit in (own.panel_unit, own.target_unit)]
    return json.dumps([units, [[round(x, 6) for row in obj.matrix_world for x in row] for obj in _objects(own)]])
