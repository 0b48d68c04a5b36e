"""What Fillwright keeps in the user's file: the settings of a plan and its results, on the scene."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import (
    BoolProperty, CollectionProperty, EnumProperty, FloatProperty, FloatVectorProperty, IntProperty, PointerProperty,
    StringProperty,
)

from ..core.bench.hand import HANDS, SCANNERS
from ..core.bench.materials import load

UNITS = [
    ("SCENE", "Scene", "One Blender unit is what the scene's unit settings say"),
    ("MM", "mm", "One Blender unit is a millimetre"),
    ("CM", "cm", "One Blender unit is a centimetre"),
    ("M", "m", "One Blender unit is a metre"),
    ("INCH", "inch", "One Blender unit is an inch"),
]
_material_items: list[tuple[str, str, str]] = []  # Blender needs the texts kept alive


def materials_file() -> str:
    """The user's own material file, or nothing."""
    addon = bpy.context.preferences.addons.get(__package__.rpartition(".")[0])
    return bpy.path.abspath(addon.preferences.materials_file) if addon else ""


def _materials(_self: Any, _context: Any) -> list[tuple[str, str, str]]:
    from pathlib import Path

    from ..core.errors import FillwrightError

    path = materials_file()
    try:
        known = load(Path(path) if path else None)
    except FillwrightError:
        known = load()
    _material_items[:] = [(m.name, m.title, f"{m.kind.capitalize()}, {m.pass_mm:g} mm a pass") for m in known.values()]
    return _material_items


def _stale(self: Any, _context: Any) -> None:
    if self.record:
        self.out_of_date = True


def _is_mesh(_self: Any, obj: bpy.types.Object) -> bool:
    return obj.type == "MESH"


class FillwrightArea(bpy.types.PropertyGroup):
    """One area of the plan, for the list."""

    kind: StringProperty()
    depth_max_mm: FloatProperty()
    area_mm2: FloatProperty()
    volume_mm3: FloatProperty()
    volume_u95_mm3: FloatProperty()
    minimum_overbuild_mm: FloatProperty()
    passes: IntProperty()
    deepest_point_mm: FloatVectorProperty(size=3, subtype="XYZ")


class FillwrightScene(bpy.types.PropertyGroup):
    """Settings and results, saved with the file."""

    panel: PointerProperty(
        name="Panel", type=bpy.types.Object, poll=_is_mesh, update=_stale,
        description="Scan of the stripped, damaged panel",
    )
    panel_collection: PointerProperty(
        name="Panel Collection", type=bpy.types.Collection, update=_stale,
        description="All meshes of this collection together are the panel",
    )
    panel_unit: EnumProperty(name="Unit", items=UNITS, update=_stale, description="What one unit of the scan's mesh is")
    target: PointerProperty(
        name="Finished Shape", type=bpy.types.Object, poll=_is_mesh, update=_stale,
        description="Surface that the finished work must have",
    )
    target_collection: PointerProperty(
        name="Shape Collection", type=bpy.types.Collection, update=_stale,
        description="All meshes of this collection together are the finished shape",
    )
    target_unit: EnumProperty(name="Unit", items=UNITS, update=_stale, description="What one unit of the shape's mesh is")
    use_work_area: BoolProperty(
        name="Work Area Only", update=_stale,
        description="Plan only what lies in the panel's vertex group Work Area; the rest still counts for noise",
    )
    painted: EnumProperty(
        name="Scanned", update=_stale, description="How the finished shape was when it was scanned",
        items=[("BARE", "Bare", "The finished shape is bare metal, as the panel is"),
               ("PAINTED", "Painted", "The finished shape carries primer and paint, which the filled panel will get")],
    )
    paint_mm: FloatProperty(
        name="Paint", default=0.2, min=0.0, max=5.0, precision=2, update=_stale,
        description="Thickness of primer and paint on the finished shape, in millimetres",
    )
    material: EnumProperty(name="Material", items=_materials, update=_stale, description="What the lows are filled with")
    scanner: EnumProperty(
        name="Scanner", update=_stale, description="Where the scan's error is known from",
        items=[(key, kind.title, kind.text) for key, kind in SCANNERS.items()],
    )
    hand: EnumProperty(
        name="Your Hand", default="STEADY", update=_stale, description="How evenly you lay",
        items=[(key, kind.title, kind.text) for key, kind in HANDS.items()],
    )
    lay_correlation_mm: FloatProperty(
        name="Stroke", default=12.0, min=0.5, max=200.0, update=_stale,
        description="How wide unevenness is, about a paddle's or spreader's stroke, in millimetres",
    )
    risk: FloatProperty(
        name="Risk", default=0.05, min=0.0001, max=0.5, precision=3, update=_stale,
        description="Chance you accept of a low spot left in an area after filing",
    )
    true_mm: FloatProperty(
        name="True Within", default=0.25, min=0.01, max=10.0, update=_stale,
        description="How far from the finished shape still counts as right, in millimetres",
    )
    reach_mm: FloatProperty(
        name="Reach", default=20.0, min=0.5, max=500.0, update=_stale,
        description="Deepest that is looked; beyond it metal is not judged, in millimetres",
    )

    areas: CollectionProperty(type=FillwrightArea)
    active_area: IntProperty(name="Area")
    record: StringProperty()  # plan.json of the last plan
    out_of_date: BoolProperty()
    show_map: BoolProperty()
