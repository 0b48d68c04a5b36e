"""What Fillwright keeps about the way to a finished shape, the line-up, and shapes that are weighed up."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    PointerProperty,
    StringProperty,
)

from ...core.jobs import as_was
from ..names import ids
from .in_inches import twins

WAYS = [
    ("HAVE_ONE", "I Have One", "A mesh of the undamaged part is at hand"),
    ("GOOD_SIDE", "From the Good Side", "The good side of the same body, or the panel from the other side, mirrored"),
    ("CARRY_THROUGH", "Carry Through", "The sound metal around the damage continued through it"),
    ("AS_IT_WAS", "As It Was", "A scan made before the panel was stripped"),
    ("METAL_LEVEL", "Metal Level", "The finished shape set in by the filler: what the metal should reach first"),
    ("BUILD_OVER", "Build Over", "The finished shape moved out until nothing stands proud"),
]


GOOD_SIDES = [
    ("ITSELF", "Found by Itself", "The side that lacks no metal, or else is less pushed in where the two differ"),
    ("LEFT", "Left in the View", "The side that lies to the left in the 3D view as you look at it now"),
    ("RIGHT", "Right in the View", "The side that lies to the right in the 3D view as you look at it now"),
    ("CURSOR", "At the 3D Cursor", "The side of the symmetry plane that the 3D cursor is on"),
]


def _damage_changed(self: Any, _context: Any) -> None:
    self.marks_changed = True


def _is_mesh(_self: Any, obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and not obj.get(ids.RESULT)


def _is_lines(_self: Any, obj: bpy.types.Object) -> bool:
    return obj.type in {"CURVE", "MESH"} and not obj.get(ids.RESULT)


class FillwrightPair(bpy.types.PropertyGroup):
    """Two matching points, each in the coordinates of the object that it was clicked on."""

    panel: PointerProperty(type=bpy.types.Object)
    panel_point: FloatVectorProperty(size=3, subtype="XYZ")
    target: PointerProperty(type=bpy.types.Object)  # None until its point is clicked
    target_point: FloatVectorProperty(size=3, subtype="XYZ")


class FillwrightLinedUp(bpy.types.PropertyGroup):
    """An object of panel or shape that took part in the last line-up."""

    obj: PointerProperty(type=bpy.types.Object)


class FillwrightWeighed(bpy.types.PropertyGroup):
    """One of the shapes that are weighed up, and its totals."""

    shape: PointerProperty(type=bpy.types.Object)
    done: BoolProperty()
    rough: BoolProperty()
    fill_mm3: FloatProperty()
    high_mm3: FloatProperty()
    deepest_mm: FloatProperty()
    laid_mass_g: FloatProperty()
    packs: IntProperty()
    pack_word: StringProperty()
    too_deep_mm2: FloatProperty()
    new_metal_mm2: FloatProperty()


_LENGTHS = {
    "old_paint_mm": FloatProperty(
        name="Its Paint (mm)", default=as_was.Request.paint_mm, min=0.0, max=5.0, precision=2, update=_damage_changed,
        description="Thickness of the paint that was on it, in millimetres",
    ),
    "filler_mm": FloatProperty(
        name="Filler (mm)", default=2.0, min=0.0, max=20.0, precision=2,
        description="Thickness of filler that may stay on the metal, in millimetres",
    ),
    "skin_mm": FloatProperty(
        name="Skin (mm)", default=0.0, min=0.0, max=20.0, precision=2,
        description="Filler over the highest metal, in millimetres",
    ),
}


class _Lengths:
    __annotations__ = _LENGTHS | twins(_LENGTHS)


class FillwrightShaping(_Lengths, bpy.types.PropertyGroup):
    """Settings and results of the steps Finished Shape and Line Up."""

    way: EnumProperty(name="Way", items=WAYS, description="Where the finished shape comes from")
    body: PointerProperty(
        name="Body", type=bpy.types.Object, poll=_is_mesh,
        description="Scan of the whole part, or of the good panel; without one the panel itself",
    )
    partner: PointerProperty(
        name="Other Side", type=bpy.types.Object, poll=_is_mesh,
        description="The damaged panel, where good and bad side are two meshes, in one frame",
    )
    good: EnumProperty(
        name="Good Side", items=GOOD_SIDES, description="Which side of the body is the good one, that is mirrored",
    )
    start: PointerProperty(
        name="Start Plane", type=bpy.types.Object,
        description="Object near the symmetry plane, which runs through its origin square to its own Z axis",
    )
    creases: PointerProperty(
        name="Creases", type=bpy.types.Object, poll=_is_lines, update=_damage_changed,
        description="Curve, or mesh of edges, along the creases that are to stay sharp",
    )
    lines: BoolProperty(
        name="Continue Lines", default=True, update=_damage_changed,
        description="Continue swages, style lines and creases that enter and leave the damage; not where you draw one",
    )
    old: PointerProperty(
        name="Old Scan", type=bpy.types.Object, poll=_is_mesh, update=_damage_changed,
        description="Scan of the panel before it was stripped",
    )
    marks_changed: BoolProperty()  # whether marks, creases or what goes with them changed since the shape was made

    by_holes: BoolProperty(
        name="Holes", description="Hold it along itself by holes that are undamaged and on both meshes",
    )
    by_rims: BoolProperty(
        name="Edges", description="Hold it along itself by edges that are undamaged and on both meshes",
    )
    pairs: CollectionProperty(type=FillwrightPair)
    line_up: StringProperty()  # what the last one found
    lined_up: StringProperty()  # where panel and shape were then
    lined_up_objects: CollectionProperty(type=FillwrightLinedUp)  # and which they were

    weighed: CollectionProperty(type=FillwrightWeighed)
    active_weighed: IntProperty(name="Shape", description="Shape chosen in the list")


GROUPS = (FillwrightPair, FillwrightLinedUp, FillwrightWeighed, FillwrightShaping)
