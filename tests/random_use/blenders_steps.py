"""What people do in Blender itself between one button of ours and the next."""

from __future__ import annotations

from typing import Any

import bpy

from tests.random_use.kinds import BACK, PLACE, SHAPE, step
from tests.random_use.our_steps import begin, ended
from tests.random_use.world import Steps, World, own, running, users_objects

_MODES = ("EDIT", "WEIGHT_PAINT", "SCULPT", "VERTEX_PAINT")


@step(12, BACK)
def undo(world: World) -> Steps:
    for _ in range(1 + int(world.rng.integers(3))):
        yield from world.undo()


@step(7, BACK)
def redo(world: World) -> Steps:
    for _ in range(1 + int(world.rng.integers(2))):
        yield from world.redo()


@step(3)
def save(world: World) -> Steps:
    bpy.ops.wm.save_as_mainfile(filepath=str(world.folder / "random.blend"))
    world.said.append(f"saved{' while a plan is made' if running() else ''}")
    yield 0.0


@step(2, BACK)
def load(world: World) -> Steps:
    bpy.ops.wm.open_mainfile(filepath=str(world.folder / "random.blend"))
    world.pending.clear()
    yield 0.2


@step(5)
def change_mode(world: World) -> Steps:
    if bpy.context.mode != "OBJECT":
        world.call(bpy.ops.object.mode_set, mode="OBJECT")
    else:
        obj = world.one(obj for obj in users_objects() if obj.visible_get())
        if obj is not None:
            bpy.context.view_layer.objects.active = obj
            world.call(bpy.ops.object.mode_set, mode=world.one(_MODES))
    yield 0.0


@step(3, SHAPE)
def edit_points(world: World) -> Steps:
    """Move some points in Edit Mode, and leave it or not."""
    obj = world.one(obj for obj in users_objects() if obj.visible_get())
    if obj is None:
        return
    _object_mode(world)
    bpy.context.view_layer.objects.active = obj
    world.call(bpy.ops.object.mode_set, mode="EDIT")
    world.call(bpy.ops.mesh.select_all, action="DESELECT")
    world.call(bpy.ops.mesh.select_random, ratio=0.02, seed=int(world.rng.integers(1000)))
    world.call(bpy.ops.transform.translate, value=(0.0, 0.0, float(world.rng.uniform(-1.0, 1.0))))
    if world.likely(0.7):
        world.call(bpy.ops.object.mode_set, mode="OBJECT")
    yield 0.0


@step(3, PLACE)
def move(world: World) -> Steps:
    obj = world.one(users_objects())
    if obj is None:
        return
    obj.location.z += float(world.rng.uniform(-0.5, 0.5))
    world.pushed(f"moved {obj.name}")
    yield 0.0


@step(2)
def modifier(world: World) -> Steps:
    """One more that bends a mesh, or one less."""
    obj = world.one(users_objects())
    if obj is None:
        return
    if len(obj.modifiers):
        obj.modifiers.remove(obj.modifiers[0])
    else:
        added = obj.modifiers.new("Bent", world.one(("DISPLACE", "DECIMATE")))
        if added.type == "DISPLACE":
            added.strength = float(world.rng.uniform(0.1, 0.5))
        else:
            added.ratio = 0.5
    world.pushed(f"modifiers of {obj.name}: {[m.type for m in obj.modifiers]}")
    yield 0.0


@step(2)
def delete(world: World) -> Steps:
    """Delete an object as X does: the user's or one of ours."""
    _object_mode(world)
    shown = [obj for obj in bpy.context.view_layer.objects if obj.visible_get()]
    obj = world.one(shown)
    if obj is not None:
        _select(obj)
        world.call(bpy.ops.object.delete)
        world.said.append("deleted")
    yield 0.0


@step(2)
def delete_unseen(world: World) -> Steps:
    """Delete one that may be hidden, as the outliner does."""
    _object_mode(world)
    obj = world.one(bpy.context.scene.objects)
    if obj is not None:
        name = obj.name
        bpy.data.objects.remove(obj)
        world.pushed(f"deleted {name}")
    yield 0.0


@step(3)
def rename(world: World) -> Steps:
    thing = world.one([*bpy.context.scene.objects, bpy.context.scene, *bpy.data.collections])
    before = thing.name
    thing.name = world.one((f"Renamé {int(world.rng.integers(100))}", "Plate", "Fill", "Contours", before + ".001"))
    world.pushed(f"{before} is {thing.name} now")
    yield 0.0


@step(3)
def hide(world: World) -> Steps:
    """Hide with H, with the screen's button or with a collection; or show all again."""
    how = world.one(("H", "alt H", "screen", "collection"))
    obj = world.one(bpy.context.view_layer.objects)
    if how == "alt H" or obj is None:
        _object_mode(world)
        world.call(bpy.ops.object.hide_view_clear)
    elif how == "H":
        obj.hide_set(not obj.hide_get())
    elif how == "screen":
        obj.hide_viewport = not obj.hide_viewport
    else:
        layer = world.one(bpy.context.view_layer.layer_collection.children)
        if layer is not None:
            layer.exclude = not layer.exclude
    world.pushed(f"hide: {how} {obj.name if obj else ''}")
    yield 0.0


@step(2)
def new_scene(world: World) -> Steps:
    if len(bpy.data.scenes) < 4:
        _object_mode(world)
        world.call(bpy.ops.scene.new, type=world.one(("NEW", "EMPTY", "LINK_COPY", "FULL_COPY")))
        world.said.append(f"in scene {bpy.context.scene.name}")
    yield 0.05


@step(4)
def other_scene(world: World) -> Steps:
    scene = world.one(bpy.data.scenes)
    _window().scene = scene
    world.pushed(f"to scene {scene.name}")
    yield 0.05


@step(1)
def delete_scene(world: World) -> Steps:
    if len(bpy.data.scenes) > 1:
        _object_mode(world)
        world.call(bpy.ops.scene.delete)
        world.said.append(f"in scene {bpy.context.scene.name}")
    yield 0.05


@step(2)
def scene_units(world: World) -> Steps:
    units = bpy.context.scene.unit_settings
    units.system = world.one(("METRIC", "IMPERIAL", "NONE"))
    if world.likely(0.3):
        units.scale_length = float(world.one((1.0, 0.001)))
    world.pushed(f"units {units.system} {units.scale_length:g}")
    yield 0.0


@step(1)
def copy_object(world: World) -> Steps:
    """Copy one with its mesh, or so that both have the same mesh."""
    _object_mode(world)
    obj = world.one(obj for obj in users_objects() if obj.visible_get())
    if obj is not None and len(bpy.data.objects) < 60:
        _select(obj)
        world.call(bpy.ops.object.duplicate, linked=world.likely(0.5))
    yield 0.0


def _window() -> Any:
    return bpy.context.window_manager.windows[0]


def _object_mode(world: World) -> None:
    if bpy.context.mode != "OBJECT":
        world.call(bpy.ops.object.mode_set, mode="OBJECT")


def _select(obj: Any) -> None:
    for other in bpy.context.view_layer.objects:
        other.select_set(other == obj)
    bpy.context.view_layer.objects.active = obj


@step(5)
def set_right(world: World) -> Steps:
    """Back to what can be planned, and plan it: else the run ends with nothing to plan."""
    scene = own()
    if not running():
        _object_mode(world)
        there = [obj for obj in users_objects() if len(obj.data.vertices) > 1000]
        scene.panel_collection = scene.target_collection = None
        scene.panel, scene.use_work_area, scene.panel_unit, scene.target_unit = world.one(there), False, "MM", "MM"
        scene.target = world.one(obj for obj in there if obj != scene.panel)
        world.pushed("set right")
        begin(world, "plan")
        yield from ended(world)
