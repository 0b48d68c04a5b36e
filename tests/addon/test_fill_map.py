"""Fill Map and Chalk It: colours, lines and chalk come and go, and everything of the user's is given back."""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Vector

from core.legend.legend import colours, legend, step_of
from tests.addon.conftest import part, refused
from tests.addon.scenes import Scene

COLOUR, DEPTH = "fillwright_map", "fillwright_depth_mm"
LINES = ("Contours", "Contours Pale", "Hatch", "Dots")
SHADING = ("type", "light", "color_type", "show_cavity", "show_shadows", "show_xray", "show_object_outline")


def run() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


def toggle() -> None:
    assert bpy.ops.fillwright.fill_map("EXEC_DEFAULT", True) == {"FINISHED"}


def spaces() -> list[bpy.types.SpaceView3D]:
    return [
        area.spaces.active for window in bpy.context.window_manager.windows for area in window.screen.areas
        if area.type == "VIEW_3D"
    ]


def shading() -> list[tuple[Any, ...]]:
    return [tuple(getattr(space.shading, name) for name in SHADING) for space in spaces()]


def is_shown(name: str) -> bool:
    obj = bpy.data.objects[name]
    assert obj.hide_viewport == obj.hide_render
    return not obj.hide_viewport


def own() -> Any:
    return bpy.context.scene.fillwright


@pytest.fixture
def views(empty: bpy.types.Scene) -> list[bpy.types.SpaceView3D]:
    """3D views of a file, one of them shaded as nobody else would."""
    found = spaces()
    if not found:
        pytest.skip("this Blender keeps no screens in the background")
    found[0].shading.type = "SOLID"
    found[0].shading.light, found[0].shading.color_type = "MATCAP", "RANDOM"
    found[0].shading.show_cavity, found[0].shading.show_object_outline = True, True
    found[-1].shading.type = "WIREFRAME" if len(found) > 1 else "SOLID"
    return found


def test_a_plan_shows_the_map_in_cores_colours(plate: Scene) -> None:
    run()
    mesh = plate.panel_object.data
    assert own().show_map
    assert mesh.attributes.active_color_name == COLOUR
    depth, colour = np.empty(len(mesh.vertices), np.float32), np.empty(4 * len(mesh.vertices), np.float32)
    mesh.attributes[DEPTH].data.foreach_get("value", depth)
    mesh.attributes[COLOUR].data.foreach_get("color", colour)
    linear = colour.reshape(-1, 4)[:, :3].astype(float)
    # IEC 61966-2-1, from scene-linear to display.
    shown = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055) * 255
    key = legend(0.25, 3.2)
    wanted, true = colours(depth, key), step_of(depth, key) == key.true_step
    np.testing.assert_allclose(shown[~true], wanted[~true], atol=0.02)
    # True metal keeps its form: chalk on the whole, never as dark as the next step nor brighter than white.
    share = shown[true] / wanted[true]
    np.testing.assert_allclose(np.median(share, axis=0), 1.0, atol=0.01)
    assert share.min() > 0.74
    assert shown.max() <= 255.01


def test_shading_is_the_maps_and_then_the_users_again(views: list[Any], plate: Scene) -> None:
    before = shading()
    run()
    assert all(row[:3] == ("SOLID", "FLAT", "VERTEX") for row in shading())
    toggle()
    assert shading() == before
    toggle()
    toggle()
    assert shading() == before


def test_what_the_user_changes_while_the_map_is_on_stays(views: list[Any], plate: Scene) -> None:
    before = shading()
    run()
    spaces()[0].shading.show_shadows = True
    spaces()[0].shading.light = "STUDIO"
    toggle()
    wanted = (before[0][0], "STUDIO", *before[0][2:4], True, *before[0][5:])
    assert shading()[0] == wanted
    assert shading()[1:] == before[1:]


def test_undo_takes_the_map_off_the_views_and_redo_puts_it_on(views: list[Any], plate: Scene) -> None:
    before = shading()
    bpy.ops.ed.undo_push(message="start")
    run()
    toggle()
    assert shading() == before
    bpy.ops.ed.undo()
    assert own().show_map
    assert all(row[:3] == ("SOLID", "FLAT", "VERTEX") for row in shading())
    bpy.ops.ed.redo()
    assert not own().show_map
    assert shading() == before
    bpy.ops.ed.undo()
    bpy.ops.ed.undo()
    assert not own().show_map
    assert shading() == before
    assert not plate.target_object.hide_get()


def test_shading_survives_saving(views: list[Any], plate: Scene, tmp_path: Path) -> None:
    before = shading()
    run()
    path = str(tmp_path / "mäp with spaces.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=path, load_ui=True)
    assert own().show_map
    assert all(is_shown(name) for name in LINES)
    assert all(row[:3] == ("SOLID", "FLAT", "VERTEX") for row in shading())
    toggle()
    assert shading() == before


def test_a_scene_that_comes_back_to_the_window_has_its_map(views: list[Any], plate: Scene) -> None:
    """The answer comes while the window shows another scene: its views stay the user's until the scene is back."""
    window, mine = bpy.context.window_manager.windows[0], bpy.context.scene
    module, shown = part("addon.map.shading"), part("addon.map.scene_shown")
    shown.look()
    before = shading()
    window.scene = bpy.data.scenes.new("Other")
    shown.look()
    mine.fillwright.show_map = True
    window.scene = mine
    assert shading() == before
    assert shown._now() != shown._Shown.last  # so the next drawing has it looked at
    shown.look()
    assert all(module.is_map(space) for space in spaces())


def test_from_behind_is_said_and_follows_the_panel(plate: Scene) -> None:
    """The plate looks up: seen from above it is seen from outside; turned over together, from below."""
    run()
    over = part("addon.map.map_legend").said_over
    middle = Vector(plate.panel_object.location)
    for turned in (False, True):
        for looking_up in (False, True):
            turn = Matrix.Rotation(math.pi if looking_up else 0.0, 4, "X")
            for perspective in (False, True):
                eye = Matrix.Translation(middle) @ turn @ Matrix.Translation((0.0, 0.0, 900.0))
                view = SimpleNamespace(view_matrix=eye.inverted(), is_perspective=perspective)
                said = over(bpy.context.scene, SimpleNamespace(region_3d=view))
                assert ("Seen from behind" in said) == (looking_up != turned)
        for obj in (plate.panel_object, plate.target_object):
            obj.rotation_euler.x = math.pi
        bpy.context.view_layer.update()


def test_disabling_gives_the_shading_back(views: list[Any], plate: Scene, installed_again: None) -> None:
    before = shading()
    run()
    assert shading() != before
    bpy.ops.preferences.addon_disable(module="bl_ext.user_default.fillwright")
    assert shading() == before
    assert not any("fillwright_shading" in screen for screen in bpy.data.screens)


def test_the_users_colours_and_hidden_objects_are_given_back(plate: Scene) -> None:
    mesh = plate.panel_object.data
    mesh.color_attributes.new("My Paint", "BYTE_COLOR", "CORNER")
    mesh.attributes.active_color_name = "My Paint"
    run()
    assert mesh.attributes.active_color_name == COLOUR
    assert plate.target_object.hide_get()  # it lies over every low
    run()  # planning again keeps what there was before the first plan
    toggle()
    assert mesh.attributes.active_color_name == "My Paint"
    assert not plate.target_object.hide_get()
    plate.target_object.hide_set(True)
    toggle()
    toggle()
    assert plate.target_object.hide_get()  # hidden by the user: stays hidden


def test_a_shape_with_modifiers_can_be_planned_again_while_the_map_hides_it(plate: Scene) -> None:
    plate.target_object.modifiers.new("Thick", "WEIGHTED_NORMAL")
    run()
    assert plate.target_object.hide_get()
    assert not own().out_of_date
    run()
    assert plate.target_object.hide_get()
    assert not own().out_of_date


def test_lines_come_and_go_with_the_map(plate: Scene) -> None:
    run()
    assert all(is_shown(name) for name in LINES)
    assert all(bpy.data.objects[name].users_collection[0].name == "Fillwright" for name in LINES)
    toggle()
    assert not any(is_shown(name) for name in LINES)


def test_contours_are_curves_on_the_panel(plate: Scene) -> None:
    run()
    obj = bpy.data.objects["Contours"]
    assert obj.type == "CURVE"
    assert {spline.type for spline in obj.data.splines} == {"POLY"}
    points = np.array([tuple(obj.matrix_world @ p.co.to_3d()) for s in obj.data.splines for p in s.points])
    # The dent's 0.25 mm line, in closed form: a circle around (10, 0) of radius 15 sqrt(2 ln 12).
    radius = np.hypot(points[:, 0] - 10.0, points[:, 1])
    assert (np.abs(radius - 15 * np.sqrt(2 * np.log(12))) < 1.5).sum() > 40
    met = [plate.panel_object.closest_point_on_mesh(point.tolist())[1] for point in points]
    away = np.linalg.norm(points - np.array(met), axis=1)
    assert 0 < away.max() < 0.5


def test_lines_follow_the_panel_and_keep_their_place(plate: Scene) -> None:
    obj = plate.panel_object
    obj.location, obj.rotation_euler, obj.scale = (30.0, 0.0, 5.0), (0.4, 0.0, 1.0), (1.0, 1.0, 1.0)
    bpy.context.scene.fillwright.target.matrix_world = obj.matrix_basis
    bpy.context.view_layer.update()
    run()
    bpy.context.view_layer.update()
    lines = bpy.data.objects["Contours"]
    first = obj.matrix_world.inverted() @ lines.matrix_world
    place = lines.matrix_world @ lines.data.splines[0].points[0].co.to_3d()
    assert obj.closest_point_on_mesh(obj.matrix_world.inverted() @ place)[1] is not None
    near = obj.matrix_world @ obj.closest_point_on_mesh(obj.matrix_world.inverted() @ place)[1]
    assert (place - near).length < 0.5
    obj.location = (500.0, 0.0, 0.0)
    bpy.context.view_layer.update()
    np.testing.assert_allclose(obj.matrix_world.inverted() @ lines.matrix_world, first, atol=1e-4)


def test_dots_are_larger_where_they_are_seen_from_far(plate: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    """By the pixels that a dot would be wide; with the map off there are none. Half of the plate is past the shape."""
    plate.target_object.scale.x = 0.5
    bpy.context.view_layer.update()
    run()
    dots = part("addon.map.dots_from_far")
    near, far = bpy.data.objects["Dots"], bpy.data.objects["Dots from Far"]
    assert len(near.data.splines) > 2 * len(far.data.splines)
    assert far.data.bevel_depth > 3 * near.data.bevel_depth
    wide = 2.0 * near.data.bevel_depth
    for pixels, from_far in ((3.0, False), (1.0, True), (3.0, False)):
        monkeypatch.setattr(dots, "_pixels", lambda _area, _obj, pixels=pixels: pixels / wide)
        dots.swap()
        assert (is_shown("Dots"), is_shown("Dots from Far")) == (not from_far, from_far)
    toggle()
    dots.swap()
    assert not is_shown("Dots")
    assert not is_shown("Dots from Far")


def test_hatch_goes_by_the_preference(plate: Scene) -> None:
    preferences = bpy.context.preferences.addons["bl_ext.user_default.fillwright"].preferences
    preferences.hatch = False
    try:
        run()
        assert not is_shown("Hatch")
        assert is_shown("Contours")
    finally:
        preferences.hatch = True


def test_planning_again_adds_no_objects_and_no_data(plate: Scene) -> None:
    run()
    kept = sorted(obj.name for obj in bpy.data.objects)
    data = [len(bpy.data.meshes), len(bpy.data.curves), len(bpy.data.materials)]
    run()
    assert sorted(obj.name for obj in bpy.data.objects) == kept
    assert [len(bpy.data.meshes), len(bpy.data.curves), len(bpy.data.materials)] == data


def test_chalk_is_drawn_on_the_panel_and_wiped_off(plate: Scene) -> None:
    run()
    assert is_shown("Chalk")
    assert is_shown("Chalk Smudge")
    obj = bpy.data.objects["Chalk"]
    points = np.array([tuple(obj.matrix_world @ v.co) for v in obj.data.vertices])
    met = np.array([tuple(plate.panel_object.closest_point_on_mesh(p.tolist())[1]) for p in points[::5]])
    assert np.linalg.norm(points[::5] - met, axis=1).max() < 2.0
    angle = np.arctan2(points[:, 1], points[:, 0] - 10.0)
    assert len(np.unique(np.floor(np.degrees(angle) / 15))) == 24  # all round the dent
    assert bpy.ops.fillwright.chalk_it() == {"FINISHED"}
    assert not is_shown("Chalk")
    run()
    assert not is_shown("Chalk"), "wiped off stays wiped off"
    assert bpy.ops.fillwright.chalk_it() == {"FINISHED"}
    assert is_shown("Chalk")
    assert is_shown("Chalk Smudge")


def test_nothing_to_show_before_a_plan(plate: Scene) -> None:
    assert refused(bpy.ops.fillwright.fill_map).endswith("Plan the fill first")
    assert refused(bpy.ops.fillwright.chalk_it).endswith("Plan the fill first")


def test_a_panel_that_cant_hold_colours_is_hidden_behind_its_map(plate: Scene) -> None:
    twin = bpy.data.objects.new("Twin", plate.panel_object.data)
    bpy.context.scene.collection.objects.link(twin)
    run()
    assert is_shown("Map Plate")
    assert plate.panel_object.hide_get()
    toggle()
    assert not is_shown("Map Plate")
    assert not plate.panel_object.hide_get()


def test_inches_have_their_own_steps(plate: Scene) -> None:
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    run()
    key, _ = part("addon.map.fill_map").key_of(bpy.context.scene)
    assert key.unit == "inch"
    wanted = legend(0.25, 3.2, "inch")
    assert list(key.edges_mm) == list(wanted.edges_mm)
