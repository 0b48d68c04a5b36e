"""What Fillwright keeps in the user's file: the settings of a plan and its results, on the scene."""

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

from ...core.bench.hand import HANDS, SCANNERS
from ..names import ids
from ..names.choices import MEASURED_UNITS, PAINTED, SURFACE, materials, preferences
from ..scene.framing import go_to
from ..scene.staleness import choice_changed, settings_changed
from . import map_state, open_steps, shape_state
from .map_state import FillwrightCarrier, FillwrightKept, FillwrightMap
from .number_settings import NumberSettings
from .open_steps import FillwrightSteps, chosen_anew
from .shape_state import FillwrightShaping


def _changed(self: Any, _context: Any) -> None:
    settings_changed(self)


def _panel_chosen(self: Any, _context: Any) -> None:
    _default_unit(self, "panel_unit")
    chosen_anew(self)
    choice_changed(self)


def _target_chosen(self: Any, _context: Any) -> None:
    _default_unit(self, "target_unit")
    chosen_anew(self)
    choice_changed(self)


def _default_unit(own: Any, name: str) -> None:
    """The preferred unit, until the user states one."""
    if preferences() is not None and not own.is_property_set(name):
        setattr(own, name, preferences().default_unit)


def _area_chosen(self: Any, context: Any) -> None:
    go_to(context, self, self.active_area)


def _is_mesh(_self: Any, obj: bpy.types.Object) -> bool:
    return obj.type == "MESH" and not obj.get(ids.RESULT)


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


class FillwrightScene(NumberSettings, bpy.types.PropertyGroup):
    """Settings and results, saved with the file."""

    panel: PointerProperty(
        name="Panel", type=bpy.types.Object, poll=_is_mesh, update=_panel_chosen,
        description="Scan of the stripped, damaged panel",
    )
    panel_collection: PointerProperty(
        name="Panel Collection", type=bpy.types.Collection, update=_panel_chosen,
        description="All meshes of this collection together are the panel, instead of one object",
    )
    panel_unit: EnumProperty(
        name="Unit", items=MEASURED_UNITS, update=_changed, description="What one unit of the scan's mesh is",
    )
    panel_mm_per_unit: FloatProperty(default=1.0, min=0.0, precision=6, update=_changed)  # with unit OWN
    target: PointerProperty(
        name="Finished Shape", type=bpy.types.Object, poll=_is_mesh, update=_target_chosen,
        description="Surface that the finished work must have",
    )
    target_collection: PointerProperty(
        name="Shape Collection", type=bpy.types.Collection, update=_target_chosen,
        description="All meshes of this collection together are the finished shape, instead of one object",
    )
    target_unit: EnumProperty(
        name="Unit", items=MEASURED_UNITS, update=_changed, description="What one unit of the shape's mesh is",
    )
    use_work_area: BoolProperty(
        name="Work Area Only", update=_changed,
        description="Plan only what lies in the panel's vertex group Work Area; the rest still counts for noise",
    )
    painted: EnumProperty(
        name="Shape Was", items=PAINTED, update=_changed,
        description="Whether the finished shape was painted or bare when it was scanned",
    )
    material: EnumProperty(
        name="Material", items=materials, update=_changed, description="What the lows are filled with",
    )
    surface: EnumProperty(
        name="Panel Is", items=SURFACE, update=_changed,
        description="What lay on the panel when it was scanned; only bare metal is worked with the hammer",
    )
    scanner: EnumProperty(
        name="How Rough Is Your Scan", update=_changed,
        description="Where the scan's own roughness is known from: measured on it, its kind of scanner, or a test",
        items=[(key, kind.title, kind.text) for key, kind in SCANNERS.items()],
    )
    hand: EnumProperty(
        name="Your Hand", default="STEADY", update=_changed, description="How evenly you lay",
        items=[(key, kind.title, kind.text) for key, kind in HANDS.items()],
    )
    line_up_by_place: BoolProperty(
        name="From the Line-Up", default=True, update=_changed,
        description="Take what the last Line Up found for each place instead of one figure, as long as it stands",
    )

    steps: PointerProperty(type=FillwrightSteps, description="Which steps are done")
    shaping: PointerProperty(type=FillwrightShaping, description="Way to the finished shape, and line-up")

    # Results
    areas: CollectionProperty(type=FillwrightArea)
    active_area: IntProperty(name="Area", update=_area_chosen, description="Area that the view goes to")
    carriers: CollectionProperty(type=FillwrightCarrier)
    record: StringProperty()  # plan.json of the last plan
    plan_id: StringProperty()  # another one for each plan
    planned_mm_per_unit: FloatProperty(default=1.0)  # the panel's, when it was planned
    made_with: StringProperty()  # settings that the plan was made with
    made_from: StringProperty()  # meshes that it was made from
    out_of_date: BoolProperty()
    maps: CollectionProperty(type=FillwrightMap)
    show_map: BoolProperty()  # whether one is shown ...
    map_kind: StringProperty(default="fill")  # ... and which, or was last
    map_kept: CollectionProperty(type=FillwrightKept)


def carriers(scene: bpy.types.Scene) -> list[bpy.types.Object]:
    """The objects that hold the plan's attributes and are still there."""
    return [entry.obj for entry in scene.fillwright.carriers if entry.obj is not None]


CLASSES = (*map_state.GROUPS, *open_steps.GROUPS, *shape_state.GROUPS, FillwrightArea, FillwrightScene)
_PROPERTIES = (
    (bpy.types.Scene, "fillwright", lambda: PointerProperty(type=FillwrightScene)),
    (bpy.types.WindowManager, "fillwright_running", lambda: BoolProperty(options={"SKIP_SAVE"})),
    (bpy.types.WindowManager, "fillwright_what", lambda: StringProperty(options={"SKIP_SAVE"})),
    (bpy.types.WindowManager, "fillwright_share", lambda: FloatProperty(options={"SKIP_SAVE"})),
    (bpy.types.WindowManager, "fillwright_step", lambda: StringProperty(options={"SKIP_SAVE"})),
)


def register() -> None:
    for owner, name, make in _PROPERTIES:
        setattr(owner, name, make())


def unregister() -> None:
    for owner, name, _make in _PROPERTIES:
        if hasattr(owner, name):
            delattr(owner, name)
