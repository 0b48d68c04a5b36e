"""Scenes to plan in: a dented plate made here, and the sample panel as Blender's importers read it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import bpy
import numpy as np

SAMPLE = Path(__file__).resolve().parents[2] / "sample_meshes"


@dataclass(frozen=True)
class Scene:
    """Names, since Blender's own references do not outlive undo or loading."""

    panel: str
    target: str

    @property
    def panel_object(self) -> bpy.types.Object:
        return bpy.data.objects[self.panel]

    @property
    def target_object(self) -> bpy.types.Object:
        return bpy.data.objects[self.target]


def dented_plate(scene: bpy.types.Scene, across: int = 101) -> Scene:
    """A dent of 3 mm in the middle of a plate and a bump of 1 mm beside it, with noise of 0.02 mm; in mm.

    ``across``: so many points."""
    points, triangles = _grid(200.0, across)
    target = _mesh("Shape", points, triangles)
    x, y = points[:, 0], points[:, 1]
    noise = 0.02 * np.random.default_rng(7).standard_normal(len(points))
    dent = 3.0 * np.exp(-((x - 10) ** 2 + y**2) / (2 * 15.0**2))
    bump = 1.0 * np.exp(-((x + 60) ** 2 + (y - 50) ** 2) / (2 * 10.0**2))
    panel = _mesh("Plate", np.column_stack([x, y, noise - dent + bump]), triangles)
    return _chosen(scene, panel, target)


def tailgate(scene: bpy.types.Scene) -> Scene:
    """The sample."""
    bpy.ops.wm.ply_import(filepath=str(SAMPLE / "tailgate_scan.ply"))
    panel = bpy.context.object
    bpy.ops.wm.stl_import(filepath=str(SAMPLE / "tailgate_shape.stl"))
    return _chosen(scene, panel, bpy.context.object)


def _chosen(scene: bpy.types.Scene, panel: bpy.types.Object, target: bpy.types.Object) -> Scene:
    own = scene.fillwright
    own.panel, own.target = panel, target
    own.panel_unit = own.target_unit = "MM"
    return Scene(panel.name, target.name)


def _grid(size: float, count: int) -> tuple[np.ndarray, np.ndarray]:
    """A flat square about the origin, facing up: points (n, 3), triangles (m, 3)."""
    ticks = np.linspace(-size / 2, size / 2, count)
    x, y = (axis.ravel() for axis in np.meshgrid(ticks, ticks, indexing="ij"))
    row = np.arange(count * count).reshape(count, count)
    a, b, c, d = (part.ravel() for part in (row[:-1, :-1], row[1:, :-1], row[1:, 1:], row[:-1, 1:]))
    return np.column_stack([x, y, 0 * x]), np.concatenate([np.column_stack([a, b, c]), np.column_stack([a, c, d])])


def _mesh(name: str, points: np.ndarray, triangles: np.ndarray) -> bpy.types.Object:
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(points.tolist(), [], triangles.tolist())
    obj = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(obj)
    return obj


def everything() -> dict[str, object]:
    """What of a file must be as before where nothing may change: objects, meshes to the last bit, results."""
    own = bpy.context.scene.fillwright
    return {
        "objects": sorted((o.name, o.data.name, tuple(map(tuple, o.matrix_world))) for o in bpy.data.objects),
        "meshes": {mesh.name: _bits(mesh) for mesh in bpy.data.meshes},
        "collections": sorted(c.name for c in bpy.data.collections),
        "record": own.record,
        "areas": [area.name for area in own.areas],
        "shown": own.show_map,
    }


def _bits(mesh: bpy.types.Mesh) -> dict[str, bytes]:
    """Each attribute's values as bytes; positions, corners, edges and what Fillwright adds."""
    found = {}
    for attribute in mesh.attributes:
        field, width = _FIELDS[attribute.data_type]
        values = np.empty(len(attribute.data) * width, dtype=_kind(attribute.data_type))
        attribute.data.foreach_get(field, values)
        found[attribute.name] = values.tobytes()
    return found


def _kind(data_type: str) -> type:
    if data_type == "BOOLEAN":
        return np.bool_
    return np.float32 if "FLOAT" in data_type or "COLOR" in data_type else np.int32


_FIELDS = {
    "FLOAT": ("value", 1), "INT": ("value", 1), "BOOLEAN": ("value", 1), "INT32_2D": ("value", 2),
    "FLOAT_VECTOR": ("vector", 3), "FLOAT_COLOR": ("color", 4), "BYTE_COLOR": ("color", 4),
}
