"""Shapes made from the finished one, set in or moved out; each makes a new object and chooses it."""

from __future__ import annotations

from typing import Any

import bpy

from ...core.jobs import build_over, metal_level
from ...core.report.window_words import in_window
from ..child.asked import Prepared, gather
from ..names import ids
from ..names.choices import materials_file, shop_unit
from ..scene.chosen import PANEL, TARGET, first_shape, first_source, part, source
from .operators import ShapeOperator


class _FromShape(ShapeOperator):
    """From the finished shape that is chosen, or what that was made from."""

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return "" if source(own, TARGET) else "Choose or make the finished shape first"

    def unit(self, own: Any) -> str:
        return str(own.target_unit)

    def made_of(self, own: Any) -> Any:
        return first_source(own)


def _words(own: Any, mm: float) -> str:
    return in_window(f"{mm:.3g} mm", shop_unit(own.id_data))


class FILLWRIGHT_OT_metal_level(_FromShape, bpy.types.Operator):
    bl_idname = idname = ids.METAL_LEVEL
    bl_label = "Set In by the Filler"
    bl_description = "Make a shape that lies below the finished one by the filler, which the metal should reach first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own = context.scene.fillwright
        target = gather(context, first_shape(own))
        return Prepared(context.scene.name, metal_level.Request(target.part, own.shaping.filler_mm), {})

    def title(self, own: Any) -> str:
        return f"Metal Level {_words(own, own.shaping.filler_mm)}"


class FILLWRIGHT_OT_build_over(_FromShape, bpy.types.Operator):
    bl_idname = idname = ids.BUILD_OVER
    bl_label = "Move Out"
    bl_description = "Move the finished shape out evenly until no metal stands proud of it"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        own = context.scene.fillwright
        return super().missing(context) if source(own, PANEL) else "Choose the panel first"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        own = context.scene.fillwright
        panel, target = gather(context, part(own, PANEL)), gather(context, first_shape(own))
        request = build_over.Request(panel.part, target.part, own.shaping.skin_mm, own.material,
                                     materials_file() or None)
        return Prepared(context.scene.name, request, {})

    def title(self, own: Any) -> str:
        return f"Build Over {_words(own, own.shaping.skin_mm)}"


CLASSES = (FILLWRIGHT_OT_metal_level, FILLWRIGHT_OT_build_over)
