"""Make Fill Mesh: the closed shells of the plan, there again after saving and loading."""

from __future__ import annotations

import json
from pathlib import Path

import bmesh
import bpy
import pytest

from tests.addon.conftest import refused
from tests.addon.scenes import Scene


def run() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


def volume(obj: bpy.types.Object) -> float:
    """Blender's own volume of a mesh, and that it is closed."""
    mesh = bmesh.new()
    try:
        mesh.from_mesh(obj.data)
        assert all(edge.is_manifold for edge in mesh.edges)
        return mesh.calc_volume(signed=True)
    finally:
        mesh.free()


def test_fill_is_closed_and_has_the_plans_volume(plate: Scene) -> None:
    run()
    obj = bpy.data.objects["Fill"]
    assert obj.hide_viewport
    assert bpy.ops.fillwright.make_fill_mesh("EXEC_DEFAULT", True) == {"FINISHED"}
    assert not obj.hide_viewport
    assert not bpy.context.scene.fillwright.show_map  # it would lie over the map ...
    assert not obj.hide_render
    assert bpy.context.view_layer.objects.active == obj
    assert bpy.context.selected_objects == [obj]
    assert [c.name for c in obj.users_collection] == ["Fillwright"]
    record = json.loads(bpy.context.scene.fillwright.record)
    bpy.ops.fillwright.fill_map()
    assert obj.hide_viewport  # ... and goes when the map comes
    assert volume(obj) == pytest.approx(record["fill_volume_mm3"], rel=1e-4)


def test_fill_is_there_after_saving_and_loading(plate: Scene, tmp_path: Path) -> None:
    run()
    wanted = volume(bpy.data.objects["Fill"])
    path = str(tmp_path / "fill é.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert bpy.ops.fillwright.make_fill_mesh("EXEC_DEFAULT", True) == {"FINISHED"}
    assert volume(bpy.data.objects["Fill"]) == pytest.approx(wanted, rel=1e-6)


def test_undo_hides_it_again(plate: Scene) -> None:
    bpy.ops.ed.undo_push(message="start")
    run()
    bpy.ops.fillwright.make_fill_mesh("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    assert bpy.data.objects["Fill"].hide_viewport
    bpy.ops.ed.undo()
    assert "Fill" not in bpy.data.objects


def test_areas_are_told_apart(plate: Scene) -> None:
    run()
    obj = bpy.data.objects["Fill"]
    places = {value.value for value in obj.data.attributes["fillwright_area"].data}
    lows = [k for k, area in enumerate(bpy.context.scene.fillwright.areas, start=1) if area.kind == "low"]
    assert places == set(lows)


def test_without_a_plan_and_without_the_object(plate: Scene) -> None:
    assert refused(bpy.ops.fillwright.make_fill_mesh).endswith("Plan the fill first")
    run()
    bpy.data.objects.remove(bpy.data.objects["Fill"])
    assert refused(bpy.ops.fillwright.make_fill_mesh) == "The fill was deleted; plan again to have it back"


def test_the_users_own_object_of_that_name_is_left_alone(plate: Scene) -> None:
    mine = bpy.data.objects.new("Fill", bpy.data.meshes.new("Mine"))
    bpy.context.scene.collection.objects.link(mine)
    run()
    run()
    assert bpy.data.objects["Fill"].data.name == "Mine"
    assert bpy.ops.fillwright.make_fill_mesh("EXEC_DEFAULT", True) == {"FINISHED"}
    assert bpy.context.view_layer.objects.active.name == "Fill.001"
    assert len([obj for obj in bpy.data.objects if obj.name.startswith("Fill")]) == 2
