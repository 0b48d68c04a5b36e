"""A crowned panel, left and right alike but for its damage, and shapes to go with it."""

from __future__ import annotations

import bpy
import numpy as np

from tests.addon.scenes import _grid, _mesh

DENT_MM, WIDE_MM, AT = 3.0, 13.0, (78.0, 10.0)


def crown(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """The shape's height, mm: even in x, so that x = 0 is its symmetry plane; y tells front from rear."""
    return -(x**2) / 900.0 - 25.0 * (x / 150.0) ** 4 - y**2 / 1400.0 + y**3 / 4.0e5


def crowned(name: str, dent_mm: float = DENT_MM, noise_mm: float = 0.02) -> bpy.types.Object:
    """A panel of 300 x 300 mm with a dent on one side, in mm about the origin."""
    flat, triangles = _grid(300.0, 91)
    x, y = flat[:, 0], flat[:, 1]
    noise = noise_mm * np.random.default_rng(11).standard_normal(len(x))
    dent = dent_mm * np.exp(-((x - AT[0]) ** 2 + (y - AT[1]) ** 2) / (2 * WIDE_MM**2))
    return _mesh(name, np.column_stack([x, y, crown(x, y) - dent + noise]), triangles)


def mark_damage(obj: bpy.types.Object, radius_mm: float = 42.0) -> None:
    """Put the dent's surroundings into the group Damage."""
    group = obj.vertex_groups.get("Damage") or obj.vertex_groups.new(name="Damage")
    rows = [v.index for v in obj.data.vertices if np.hypot(v.co.x - AT[0], v.co.y - AT[1]) < radius_mm]
    group.add(rows, 1.0, "REPLACE")


def own() -> object:
    return bpy.context.scene.fillwright


def set_out(panel: bpy.types.Object, target: bpy.types.Object | None = None, unit: str = "MM") -> None:
    """Choose panel and shape, with their unit."""
    settings = bpy.context.scene.fillwright
    settings.panel, settings.target = panel, target
    settings.panel_unit = settings.target_unit = unit
