"""The two ways in: a scan or shape imported from a file, or the mesh that is selected."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import bpy
from bpy.props import EnumProperty, StringProperty

from ..names import ids
from ..names.choices import UNITS, preferences
from ..scene.chosen import NAMES, PANEL, TARGET
from ..scene.framing import look_from_outside
from ..scene.scene_meshes import SceneError
from ..sidebar.shown import size_of
from .object_mode_first import ObjectModeFirst

_ROLES = [(PANEL, "Panel", "The scan of the panel"), (TARGET, "Finished Shape", "The surface it must have")]
_KINDS = ".stl, .ply, .obj, .glb"
_AS_IT_IS = {"forward_axis": "Y", "up_axis": "Z"}  # scan and shape from one place must not be turned differently


class _Role:
    """Mixed into both: for which part it is."""

    role: EnumProperty(name="As", items=_ROLES, default=PANEL, options={"SKIP_SAVE"}, description="What the mesh is")


class FILLWRIGHT_OT_import_mesh(_Role, ObjectModeFirst, bpy.types.Operator):
    bl_idname = ids.IMPORT_MESH
    bl_label = "Import a Scan"
    bl_description = "Import a mesh from an STL, PLY, OBJ or GLB file and choose it"
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(name="File", subtype="FILE_PATH", description="STL, PLY, OBJ or GLB file")
    filter_glob: StringProperty(default=_KINDS.replace(".", "*.").replace(", ", ";"), options={"HIDDEN"})
    unit: EnumProperty(
        name="Unit", items=UNITS, default="MM", description="What one unit of the file is; a GLB file is in metres",
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        own = preferences()
        if own is not None and not self.properties.is_property_set("unit"):
            self.unit = own.default_unit
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            objects = _imported(Path(self.filepath))
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        unit = "M" if Path(self.filepath).suffix.lower() == ".glb" else self.unit
        chosen: Any = objects[0] if len(objects) == 1 else _together(context, Path(self.filepath).stem, objects)
        _choose(context, self.role, chosen, unit)
        size, warning = size_of(context.scene, objects, unit)
        kind = "WARNING" if warning else "INFO"
        self.report({kind}, f"{Path(self.filepath).name}: {size}{f'; {warning}' if warning else ''}")
        return {"FINISHED"}


class FILLWRIGHT_OT_take_selected(_Role, ObjectModeFirst, bpy.types.Operator):
    bl_idname = ids.TAKE_SELECTED
    bl_label = "Take the Selected Mesh"
    bl_description = "Choose the mesh that is selected in the view"
    bl_options = {"REGISTER", "UNDO"}

    def execute(self, context: bpy.types.Context) -> set[str]:
        obj = context.active_object
        if obj is None or obj.type != "MESH" or not obj.select_get():
            self.report({"ERROR"}, f"No mesh is selected; click the {NAMES[self.role]} in the view first")
            return {"CANCELLED"}
        try:
            _choose(context, self.role, obj, "")
        except SceneError as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        return {"FINISHED"}


def _imported(path: Path) -> list[bpy.types.Object]:
    """The meshes of a file, selected; none is left in the scene where it can't be used."""
    ways = {".stl": bpy.ops.wm.stl_import, ".ply": bpy.ops.wm.ply_import, ".obj": bpy.ops.wm.obj_import,
            ".glb": bpy.ops.import_scene.gltf}
    kind = path.suffix.lower()
    if kind not in ways:
        raise SceneError(f"{path.name or 'nothing'} came; one of {_KINDS} is wanted")
    if not path.is_file():
        raise SceneError(f"{path.name} is not there; choose the file again")
    before = {*bpy.data.objects, *bpy.data.meshes}
    try:
        ways[kind](filepath=str(path), **({} if kind == ".glb" else _AS_IT_IS))
    except (RuntimeError, AttributeError) as error:  # the importer's own words, or the glTF add-on is switched off
        _take_out(before)
        said = str(error).strip().splitlines()[-1].removeprefix("Error: ")
        raise SceneError(f"{path.name} can't be imported: {said}") from None
    new = [obj for obj in bpy.data.objects if obj not in before]
    meshes = [obj for obj in new if obj.type == "MESH" and len(obj.data.polygons)]
    if not meshes:
        _take_out(before)
        raise SceneError(f"{path.name} holds no faces; export the scan as a mesh, not as points")
    return meshes


def _take_out(before: set[bpy.types.ID]) -> None:
    """Whatever has come since ``before``."""
    bpy.data.batch_remove({*bpy.data.objects, *bpy.data.meshes} - before)


def _together(context: bpy.types.Context, name: str, objects: list[bpy.types.Object]) -> bpy.types.Collection:
    """A collection of its own for a file of several meshes."""
    made = bpy.data.collections.new(name)
    context.scene.collection.children.link(made)
    for obj in objects:
        for old in obj.users_collection:
            old.objects.unlink(obj)
        made.objects.link(obj)
    return made


def _choose(context: bpy.types.Context, role: str, chosen: Any, unit: str) -> None:
    """Bring the view to an object or a collection, choose it, and say its unit where one is given.

    Raises SceneError, with nothing changed, where it can't be used.
    """
    own = context.scene.fillwright
    is_collection = isinstance(chosen, bpy.types.Collection)
    objects = list(chosen.all_objects) if is_collection else [chosen]
    look_from_outside(context, [obj for obj in objects if obj.type == "MESH"])
    setattr(own, f"{role}_collection", chosen if is_collection else None)
    setattr(own, role, None if is_collection else chosen)
    if unit:
        setattr(own, f"{role}_unit", unit)
    bpy.ops.object.select_all(action="DESELECT")
    for obj in objects:
        obj.select_set(True)
    context.view_layer.objects.active = objects[0]


CLASSES = (FILLWRIGHT_OT_import_mesh, FILLWRIGHT_OT_take_selected)
