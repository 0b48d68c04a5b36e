"""Panel and finished shape shown side by side for a while; afterwards everything is as it was."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Quaternion, Vector

from ...core.picture.side_by_side import side_by_side
from ..scene import moving, staleness
from ..scene.chosen import both
from ..scene.scene_meshes import MeshArrays, SceneError, mesh_arrays, mm_per_unit

_VIEW = ("view_location", "view_distance", "view_rotation", "view_perspective")


@dataclass
class SideBySide:
    """What was changed: where objects stood, which were shown or hidden, how the view looked."""

    panel: tuple[str, ...]
    target: tuple[str, ...]
    stood: dict[str, Any] = field(default_factory=dict)
    was_hidden: dict[str, bool] = field(default_factory=dict)
    view: dict[str, Any] = field(default_factory=dict)
    clip_end: float = 0.0
    unit: str = ""

    @classmethod
    def begin(cls, context: bpy.types.Context) -> SideBySide:
        """Lay the panel left of the shape, both seen from outside and nothing else; SceneError where that can't be."""
        own = context.scene.fillwright
        panel, target = (list(one.objects) for one in both(own))
        kept = cls(tuple(obj.name for obj in panel), tuple(obj.name for obj in target))
        try:
            kept._show(context, panel, target)
            kept._lay_out(context, panel, target)
        except Exception:
            kept.end(context)
            raise
        return kept

    def _show(self, context: bpy.types.Context, panel: list[Any], target: list[Any]) -> None:
        both = {obj.name for obj in (*panel, *target)}
        for obj in context.view_layer.objects:
            hide = obj.name not in both
            if hide != obj.hide_get():
                self.was_hidden[obj.name] = not hide
                obj.hide_set(hide)
        context.view_layer.update()
        off = next((obj.name for obj in (*panel, *target) if not obj.visible_get()), None)
        if off is not None:
            raise SceneError(f"{off} is switched off in the viewport; switch it on first")

    def _lay_out(self, context: bpy.types.Context, panel: list[Any], target: list[Any]) -> None:
        own, depsgraph = context.scene.fillwright, context.evaluated_depsgraph_get()
        points, triangles = _joined([mesh_arrays(obj, depsgraph, False) for obj in panel])
        other, others = _joined([mesh_arrays(obj, depsgraph, False) for obj in target])
        scale = mm_per_unit(context.scene, own.panel_unit) / mm_per_unit(context.scene, own.target_unit)
        matrix, axes = side_by_side(points, triangles, other, others, scale)
        self.stood = moving.places(panel)
        moving.move(context, panel, matrix)
        if scale != 1.0:  # the sidebar tells its size meanwhile
            self.unit, own.panel_unit = own.panel_unit, own.target_unit
        self._look(context, np.concatenate([points @ matrix[:3, :3].T + matrix[:3, 3], other]) @ axes.T, axes)

    def _look(self, context: bpy.types.Context, along: Any, axes: Any) -> None:
        """Have both fill the view; ``along``: their points by the view's ``axes``."""
        space = context.area.spaces.active
        seen, region = space.region_3d, next(r for r in context.area.regions if r.type == "WINDOW")
        self.view = {name: _copied(getattr(seen, name)) for name in _VIEW}
        self.clip_end = space.clip_end
        low, high = along.min(axis=0), along.max(axis=0)
        free = sum(r.width for r in context.area.regions if r.type == "UI") if context.area else 0
        shape = max(0.2, (region.width - free) / max(1, region.height))
        wide = max(high[0] - low[0], shape * (high[1] - low[1])) * region.width / max(1, region.width - free)
        seen.view_perspective = "ORTHO"
        seen.view_rotation = Matrix(axes.T.tolist()).to_quaternion()
        middle = 0.5 * (low + high)
        middle[0] += 0.5 * wide * free / max(1, region.width)
        seen.view_location = Vector((middle @ axes).tolist())
        seen.view_distance = 1.15 * wide * space.lens / 72.0
        space.clip_end = max(space.clip_end, 20.0 * float(np.linalg.norm(high - low)))

    def end(self, context: bpy.types.Context) -> None:
        """Put everything back; what was deleted meanwhile is left out."""
        moving.put_back(self.stood)
        if self.unit:
            context.scene.fillwright.panel_unit = self.unit
        for name, hidden in self.was_hidden.items():
            obj = context.view_layer.objects.get(name)
            if obj is not None:
                obj.hide_set(hidden)
        if self.view and context.area is not None and context.area.type == "VIEW_3D":
            for name, value in self.view.items():
                setattr(context.area.spaces.active.region_3d, name, value)
            context.area.spaces.active.clip_end = self.clip_end
        context.view_layer.update()
        staleness.look_again(context.scene, context.evaluated_depsgraph_get())


def _copied(value: Any) -> Any:
    return value.copy() if isinstance(value, Vector | Quaternion) else value


def _joined(meshes: list[MeshArrays]) -> tuple[Any, Any]:
    """All points in the scene, (n, 3), and all triangles, (m, 3)."""
    points, triangles, count = [], [], 0
    for mesh in meshes:
        points.append(mesh.vertices.astype(np.float64) @ mesh.matrix[:3, :3].T + mesh.matrix[:3, 3])
        mirrored = np.linalg.det(mesh.matrix[:3, :3]) < 0
        triangles.append((mesh.triangles[:, ::-1] if mirrored else mesh.triangles) + count)
        count += len(mesh.vertices)
    return np.concatenate(points), np.concatenate(triangles)
