"""Shapes made from the finished one, set in or moved out; each makes a new object and chooses it."""

from __future__ import annotations

from typing import Any

import bpy

from ..child.shape_job import PreparedShape, first_shape, first_source, panel_role, prepared
from ..names import ids
from ..names.choices import materials_file
from .operators import ShapeOperator


class _FromShape(ShapeOperator):
    """From the finished shape that is chosen, or what that was made from."""

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if own.target or own.target_collection else "Choose or make the finished shape first"

    def unit(self, own: Any) -> str:
        return str(own.target_unit)

    def source(self, own: Any) -> Any:
        return first_source(own)


class FILLWRIGHT_OT_metal_level(_FromShape, bpy.types.Operator):
    bl_idname = idname = ids.METAL_LEVEL
    bl_label = "Set In by the Filler"
    bl_description = "Make a shape that lies below the finished one by the filler, which the metal should reach first"
    kind = "metal_level"

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        return prepared(context, self.kind, {"target": first_shape(own)}, filler_mm=own.shaping.filler_mm)

    def title(self, own: Any) -> str:
        return f"Metal Level {own.shaping.filler_mm:.3g} mm"


class FILLWRIGHT_OT_build_over(_FromShape, bpy.types.Operator):
    bl_idname = idname = ids.BUILD_OVER
    bl_label = "Move Out"
    bl_description = "Move the finished shape out evenly until no metal stands proud of it"
    kind = "build_over"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return super().missing(context) if own.panel or own.panel_collection else "Choose the panel first"

    def prepare(self, context: bpy.types.Context) -> PreparedShape:
        own = context.scene.fillwright
        roles = {"panel": panel_role(own), "target": first_shape(own)}
        return prepared(context, self.kind, roles, skin_mm=own.shaping.skin_mm, material=own.material,
                        materials=materials_file() or None)

    def title(self, own: Any) -> str:
        return f"Build Over {own.shaping.skin_mm:.3g} mm"


CLASSES = (FILLWRIGHT_OT_metal_level, FILLWRIGHT_OT_build_over)
