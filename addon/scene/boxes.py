"""Boxes around what is chosen, in millimetres."""

from __future__ import annotations

from typing import Any

import numpy as np
from mathutils import Vector

from ...core.place.boxes import boxes_meet
from .chosen import PANEL, TARGET, things
from .scene_meshes import mm_per_unit


def lie_together(own: Any) -> bool:
    """Whether panel and finished shape are chosen and, from their boxes, may lie on one another already."""
    panel, target = _corners(own, PANEL), _corners(own, TARGET)
    return bool(len(panel) and len(target)) and boxes_meet(panel, target)


def _corners(own: Any, role: str) -> Any:
    mm = mm_per_unit(own.id_data, getattr(own, f"{role}_unit"))
    meshes = [obj for obj in things(own, role) if obj.type == "MESH"]
    return mm * np.array([obj.matrix_world @ Vector(corner) for obj in meshes for corner in obj.bound_box])
