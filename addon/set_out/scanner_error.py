"""Test the Scanner: two scans of one panel, selected, give the scanner's error."""

from __future__ import annotations

import bpy

from ...core.bench.hand import TESTED
from ...core.jobs.scanner_error import Request
from ...core.legend import shop_units as shop
from ..child.asked import Asked, Prepared, answer_of, gather
from ..child.child_operator import ChildOperator
from ..names import ids
from ..names.choices import shop_unit
from ..scene.chosen import Chosen


class FILLWRIGHT_OT_test_scanner(ChildOperator, bpy.types.Operator):
    bl_idname = idname = ids.TEST_SCANNER
    bl_label = "Test the Scanner"
    bl_description = "Select two scans of one panel, scanned anew without touching it: what differs is your scanner's"
    what = "scanner's test"

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        return "" if len(_scans(context)) == 2 else "Select two scans of one panel"

    def prepare(self, context: bpy.types.Context) -> Prepared:
        unit = context.scene.fillwright.panel_unit
        a, b = (gather(context, Chosen(obj.name, (obj,), unit)) for obj in _scans(context))
        return Prepared(context.scene.name, Request(a.part, b.part), {})

    def take(self, context: bpy.types.Context, asked: Asked) -> str:
        scene, answer = answer_of(asked)
        own, record = scene.fillwright, answer.record
        own.tested_error_mm, own.tested_length_mm = record["scan_error_mm"], record["scan_error_length_mm"]
        own.scanner = TESTED
        return f"Scanner's error {shop.length(record['scan_error_mm'], shop_unit(scene))}; the plan goes by it now"


def _scans(context: bpy.types.Context) -> list[bpy.types.Object]:
    return [obj for obj in context.selected_objects if obj.type == "MESH" and not obj.get(ids.RESULT)]


CLASSES = (FILLWRIGHT_OT_test_scanner,)
