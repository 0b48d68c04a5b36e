"""Load the Bonnet: the second sample, damaged on one side and without a finished shape."""

from __future__ import annotations

import bpy

from ..names import ids
from ..names.package import ROOT
from ..scene.framing import look_from_outside
from .object_mode_first import ObjectModeFirst

_FILE = "bonnet_scan.glb"


class FILLWRIGHT_OT_load_bonnet(ObjectModeFirst, bpy.types.Operator):
    bl_idname = ids.LOAD_BONNET
    bl_label = "Bonnet: Make the Shape First"
    bl_description = "Load an invented bonnet with one side damaged, for which a finished shape is to be made"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        on = "io_scene_gltf2" in context.preferences.addons
        return "" if on else "Turn Blender's own add-on glTF 2.0 on first: the scan is a GLB file"

    def execute(self, context: bpy.types.Context) -> set[str]:
        path = ROOT / "sample_meshes" / _FILE
        if not path.is_file():
            self.report({"ERROR"}, f"The sample {_FILE} is missing from the extension; install it again")
            return {"CANCELLED"}
        bpy.ops.import_scene.gltf(filepath=str(path))
        scan = next(obj for obj in context.selected_objects if obj.type == "MESH")
        own = context.scene.fillwright
        own.panel_collection = own.target_collection = own.target = None
        own.panel, own.panel_unit = scan, "M"  # as every GLB is
        own.use_work_area, own.painted, own.shaping.way = False, "BARE", "GOOD_SIDE"
        bpy.ops.object.select_all(action="DESELECT")
        scan.select_set(True)
        context.view_layer.objects.active = scan
        look_from_outside(context, [scan])
        self.report({"INFO"}, "Bonnet loaded; press Mirror the Good Side")
        return {"FINISHED"}


CLASSES = (FILLWRIGHT_OT_load_bonnet,)
