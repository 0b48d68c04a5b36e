"""The extension's preferences."""

from __future__ import annotations

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ..names.choices import UNITS
from ..names.package import EXTENSION
from ..scene.staleness import material_file_changed


def _material_file_chosen(_self: object, _context: object) -> None:
    material_file_changed()


class FillwrightPreferences(bpy.types.AddonPreferences):
    bl_idname = EXTENSION

    default_unit: EnumProperty(
        name="Unit", items=UNITS, default="MM", description="Unit of a scan or shape until another is stated",
    )
    materials_file: StringProperty(
        name="Material File", subtype="FILE_PATH", update=_material_file_chosen,
        description="Your own materials, a TOML file like the one inside",
    )
    hatch: BoolProperty(
        name="Hatch", default=True, description="Draw a hatch over what is deeper than the material may go",
    )
    pictures: StringProperty(
        name="Pictures", subtype="DIR_PATH", default="//", description="Folder for pictures; // is beside the file",
    )

    weight_colours: StringProperty(options={"HIDDEN"})  # the user's own, while a mark is painted in chalk

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        for name in ("default_unit", "materials_file", "hatch", "pictures"):
            layout.prop(self, name)


CLASSES = (FillwrightPreferences,)
