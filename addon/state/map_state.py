"""What Fillwright keeps about maps: the objects that hold their colours, and what they changed about the user's."""

from __future__ import annotations

import bpy
from bpy.props import (
    BoolProperty,
    CollectionProperty,
    FloatProperty,
    FloatVectorProperty,
    PointerProperty,
    StringProperty,
)


class FillwrightCarrier(bpy.types.PropertyGroup):
    """An object whose mesh holds a map's attributes: the panel's own, or a map object beside it."""

    obj: PointerProperty(type=bpy.types.Object)


class FillwrightKept(bpy.types.PropertyGroup):
    """What the map changed about an object, to be given back: its active ``colour``, that it was shown, or its
    ``tint`` among objects' own colours."""

    obj: PointerProperty(type=bpy.types.Object)
    colour: StringProperty()
    hidden: BoolProperty()
    tinted: BoolProperty()
    tint: FloatVectorProperty(size=4)


class FillwrightMap(bpy.types.PropertyGroup):
    """A map beside the plan's, its ``name`` as core names it, and what its steps were made with."""

    carriers: CollectionProperty(type=FillwrightCarrier)
    true_mm: FloatProperty()
    unit: StringProperty()


GROUPS = (FillwrightCarrier, FillwrightKept, FillwrightMap)
