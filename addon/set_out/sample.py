"""Load the Sample: the invented tailgate that comes with Fillwright."""

from __future__ import annotations

import bpy
from mathutils import Euler

from ..names import ids
from ..names.package import ROOT
from ..scene.framing import frame_objects
from .object_mode_first import ObjectModeFirst

_FILES = (("tailgate_scan.ply", "Sample Scan"), ("tailgate_shape.stl", "Sample Shape"))

_SEEN_FROM = Euler((0.6, 0.0, 0.25)).to_quaternion()  # its outside, from the lower edge


class FILLWRIGHT_OT_load_sample(ObjectModeFirst, bpy.types.Operator):
    bl_idname = ids.LOAD_SAMPLE
    bl_label = "Tailgate: Plan a Fill"
    bl_description = "Load an invented tailgate with three lows and a high, and the shape that it should have"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        missing = [name for name, _ in _FILES if not (ROOT / "sample_meshes" / name).is_file()]
        if missing:
            self.report({"ERROR"}, f"The sample {missing[0]} is missing from the extension; install it again")
            return {"CANCELLED"}
        scan, shape = (_imported(context, file, name) for file, name in _FILES)
        shape.hide_set(True)  # it lies within a few millimetres of the scan and would hide the lows
        own = context.scene.fillwright
        own.panel_unit = own.target_unit = "MM"
        own.shaping.way = "HAVE_ONE"
        own.panel_collection = own.target_collection = None
        own.panel, own.target = scan, shape
        own.use_work_area, own.painted = False, "BARE"
        bpy.ops.object.select_all(action="DESELECT")
        scan.select_set(True)
        context.view_layer.objects.active = scan
        frame_objects(context, [scan], _SEEN_FROM)
        self.report({"INFO"}, "Sample loaded; press Plan the Fill")
        return {"FINISHED"}


def _imported(context: bpy.types.Context, file: str, name: str) -> bpy.types.Object:
    path = str(ROOT / "sample_meshes" / file)
    if file.endswith(".ply"):
        bpy.ops.wm.ply_import(filepath=path)
    else:
        bpy.ops.wm.stl_import(filepath=path)
    obj = context.view_layer.objects.active
    obj.name = obj.data.name = name
    return obj


CLASSES = (FILLWRIGHT_OT_load_sample,)
