"""Fillwright's own buttons and fields."""

from __future__ import annotations

from time import perf_counter
from typing import Any

import bpy

from tests.random_use import prints
from tests.random_use.kinds import PLACE, step
from tests.random_use.world import SLOWEST_S, Steps, World, WrongError, own, running, users_objects

_CHOICES = {
    "surface": ("bare", "laid", "primed"), "painted": ("BARE", "PAINTED"), "hand": ("NEW", "STEADY", "OLD"),
    "scanner": ("MEASURED", "TESTED", "HOBBY_LIGHT"), "use_work_area": (False, True),
    "panel_unit": ("MM", "MM", "MM", "SCENE", "OWN"), "target_unit": ("MM", "MM", "SCENE"),
    "line_up_by_place": (False, True),
}
_NUMBERS = {"true_mm": (0.2, 0.5), "reach_mm": (10.0, 30.0), "risk": (0.02, 0.1), "reserve_share": (0.1, 0.4),
            "bump_spacing_mm": (40.0, 80.0), "line_up_uncertainty_mm": (0.02, 0.2), "paint_mm": (0.1, 0.3)}
_QUICK = ("fill_map", "chalk_it", "make_fill_mesh", "show_shape", "go_to_area", "add_to_weigh_up",
          "take_from_weigh_up", "clear_matching_points", "work_area_from_selection", "work_area_paint")
_JOBS = ("plan", "weigh_up", "line_up", "metal_level", "build_over", "suggest_damage")
_ASKING = ("read_depth", "set_size", "click_matching_points", "plane_from_points", "work_area_lasso")


def ended(world: World) -> Steps:
    """Wait until nothing runs any more."""
    end = perf_counter() + SLOWEST_S
    while running():
        if perf_counter() > end:
            raise WrongError(f"{bpy.context.window_manager.fillwright_what} runs for ever")
        yield 0.05
    yield 0.05


def begin(world: World, name: str, **words: Any) -> None:
    """Start a job as its button does, and remember of what a plan will be made."""
    scene = bpy.context.scene
    if name == "plan" and not running():
        held = bool(own().plan_id) and not own().out_of_date and not prints.is_edited(scene)
        world.pending = {"plan_id": own().plan_id, "made_of": prints.made_of(scene), "scene": scene.session_uid,
                         "figures": prints.figures(scene) if held else None}
    world.call(getattr(bpy.ops.fillwright, name), "INVOKE_DEFAULT" if world.has_window else "EXEC_DEFAULT", **words)


@step(8)
def plan(world: World) -> Steps:
    begin(world, "plan")
    yield from ended(world)


@step(3)
def plan_and_go_on(world: World) -> Steps:
    """Leave it running: the next steps happen meanwhile."""
    begin(world, "plan")
    yield 0.05


@step(3)
def plan_and_stop(world: World) -> Steps:
    """Esc at any moment of it."""
    begin(world, "plan")
    for _ in range(int(world.rng.integers(12))):
        yield 0.06
    yield from world.key("ESC")
    yield from ended(world)


@step(4, PLACE)
def any_job(world: World) -> Steps:
    yield from ended(world)
    name = world.one(_JOBS)
    begin(world, name, **({"replace": True} if name == "suggest_damage" else {}))
    if world.likely(0.2):
        yield from world.key("ESC")
    yield from ended(world)


@step(10)
def quick_button(world: World) -> Steps:
    name = world.one(_QUICK)
    world.call(getattr(bpy.ops.fillwright, name), "INVOKE_DEFAULT" if world.has_window else "EXEC_DEFAULT")
    yield 0.0


@step(5)
def fill_map(world: World) -> Steps:
    world.call(bpy.ops.fillwright.fill_map)
    yield 0.0


@step(2)
def other_map(world: World) -> Steps:
    world.call(bpy.ops.fillwright.show_map, kind=world.one(("good_side", "as_was", "line_up")))
    yield 0.0


@step(10)
def change_setting(world: World) -> Steps:
    if world.likely(0.5):
        name: str = world.one(_CHOICES)
        value: Any = world.one(_CHOICES[name])
    else:
        name = world.one(_NUMBERS)
        value = float(world.rng.uniform(*_NUMBERS[name]))
    setattr(own(), name, value)
    world.pushed(f"{name} is {value}")
    yield 0.0


@step(3)
def change_material(world: World) -> Steps:
    own().material = world.one(own().bl_rna.properties["material"].enum_items.keys() or ("polyester",))
    world.pushed(f"material is {own().material}")
    yield 0.0


@step(5)
def choose_area(world: World) -> Steps:
    if len(own().areas):
        with world.here():
            own().active_area = int(world.rng.integers(len(own().areas) + 1))
        world.said.append(f"area {own().active_area}")
    yield 0.0


@step(3)
def choose_mesh(world: World) -> Steps:
    """Another panel or shape, by its field or by Take the Selected Mesh, or a collection instead."""
    role, obj = world.one(("panel", "target")), world.one(users_objects())
    how = world.one(("field", "field", "button", "collection", "none"))
    if how == "button" and obj is not None and obj.visible_get() and bpy.context.mode == "OBJECT":
        obj.select_set(True)
        bpy.context.view_layer.objects.active = obj
        world.call(bpy.ops.fillwright.take_selected, role=role)
    elif how == "collection":
        setattr(own(), f"{role}_collection", world.one([*bpy.data.collections, None, None]))
        world.pushed(f"{role}: another collection")
    elif how != "none" or world.likely(0.3):
        setattr(own(), f"{role}_collection", None)
        setattr(own(), role, obj)
        world.pushed(f"{role}: {obj.name if obj else obj}")
    yield 0.0


@step(5)
def asked_for_clicks(world: World) -> Steps:
    """Read Depth and the others that ask for clicks: some clicks, other keys, and Esc."""
    name = world.one(_ASKING)
    if not world.has_window or running():
        return
    if world.call(getattr(bpy.ops.fillwright, name), "INVOKE_DEFAULT") != {"RUNNING_MODAL"}:
        return
    yield 0.05
    for _ in range(int(world.rng.integers(1, 6))):
        yield from world.one((_click, _click, _click, _undo_key, _maximise))(world)
    for _ in range(3):  # a dialog may have come up
        yield from world.key("ESC")


def _click(world: World) -> Steps:
    right, up = world.rng.uniform(0.25, 0.75, 2)
    yield from world.click(float(right), float(up))


def _undo_key(world: World) -> Steps:
    yield from world.key("Z", ctrl=True)


def _maximise(world: World) -> Steps:
    """The view over the whole window and back, as Ctrl Space does."""
    for _ in range(2):
        yield from world.key("SPACE", ctrl=True)
        yield 0.1
