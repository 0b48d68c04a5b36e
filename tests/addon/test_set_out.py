"""Setting out: the sample, units and size, the work area, what the sidebar says, and whether the plan still holds."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import bmesh
import bpy
import numpy as np
import pytest

from core.bench.materials import BUILT_IN
from core.report.plan_lines import condition_lines, result_lines
from core.surface.lasso import inside_lasso
from tests.addon.conftest import part, refused
from tests.addon.scenes import Scene

OUTLINE = np.array([[-0.5, -0.5], [0.6, -0.4], [0.1, 0.0], [0.5, 0.6], [-0.4, 0.5]])
VIEW = np.diag([1 / 100, 1 / 100, 1.0, 1.0])  # from above, 100 mm from the middle to the view's edge


def own() -> bpy.types.PropertyGroup:
    return bpy.context.scene.fillwright


def run() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


def size(unit: str) -> tuple[str, str]:
    return part("addon.sidebar.shown").size_of(bpy.context.scene, [own().panel], unit)


def marked(obj: bpy.types.Object) -> set[int]:
    """The work area's vertices, asked of each vertex in turn."""
    group = obj.vertex_groups["Work Area"].index
    return {v.index for v in obj.data.vertices if any(g.group == group and g.weight > 0.5 for g in v.groups)}


def test_the_sample_is_ready_to_plan(empty: bpy.types.Scene) -> None:
    """Its size and areas as sample_meshes/README.md has them; no material is given to it."""
    assert bpy.ops.fillwright.load_sample() == {"FINISHED"}
    assert (own().panel.name, own().target.name) == ("Sample Scan", "Sample Shape")
    assert (own().panel_unit, own().target_unit) == ("MM", "MM")
    assert not own().panel.data.materials
    assert size("MM") == ("700 × 420 × 45 mm", "")
    run()
    assert [area.name for area in own().areas] == ["Low 1", "Low 2", "Low 3", "High 1"]


def test_size_is_that_of_the_declared_unit(plate: Scene) -> None:
    """The plate is 200 units square (scenes.py); an inch is 25.4 mm exactly (NIST SP 811)."""
    assert size("MM")[0].startswith("200 × 200 × ")
    assert re.match("508[01] × 508[01] × ", size("INCH")[0])  # dent and bump tilt what counts as flat a little
    assert size("M")[1] == "Too large for a panel: check the unit"
    assert size("SCENE") == size("M")
    bpy.context.scene.unit_settings.scale_length = 0.01
    assert size("SCENE") == size("CM")
    plate.panel_object.scale = (0.1, 0.1, 0.1)
    bpy.context.view_layer.update()
    assert size("MM")[1] == "Too small for a panel: check the unit"
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    assert size("INCH")[0].startswith("20.0 × 20.0 × ")


def test_set_size_from_a_tape(plate: Scene) -> None:
    """Two points 150 units apart taped at 75 mm: half a millimetre a unit; the mesh stays as it is."""
    before = [tuple(v.co) for v in plate.panel_object.data.vertices]
    assert bpy.ops.fillwright.size_from_tape(first=(0, 0, 0), second=(90, 120, 0), taped_mm=75.0) == {"FINISHED"}
    assert own().panel_unit == "OWN"
    assert size("OWN")[0].startswith("100 × 100 × ")
    assert [tuple(v.co) for v in plate.panel_object.data.vertices] == before
    own().target_unit = "MM"
    plate.target_object.scale = (0.5, 0.5, 0.5)
    bpy.context.view_layer.update()
    run()
    # a dent in closed form, 2 pi s^2 h, with all three lengths halved
    assert own().areas[0].volume_mm3 == pytest.approx(2 * np.pi * 7.5**2 * 1.5, rel=0.05)
    assert "one place" in refused(bpy.ops.fillwright.size_from_tape, first=(1, 1, 1), second=(1, 1, 1), taped_mm=75.0)


def test_the_preferred_unit_holds_until_one_is_stated(empty: bpy.types.Scene) -> None:
    preferences = bpy.context.preferences.addons[part("addon").__package__.rpartition(".")[0]].preferences
    preferences.default_unit = "CM"
    try:
        obj = bpy.data.objects.new("Scan", bpy.data.meshes.new("Scan"))
        own().target_unit = "INCH"
        own().panel = own().target = obj
        assert (own().panel_unit, own().target_unit) == ("CM", "INCH")
    finally:
        preferences.default_unit = "MM"


def test_work_area_from_the_selection(plate: Scene) -> None:
    obj = plate.panel_object
    bpy.context.view_layer.objects.active = obj
    wanted = {v.index for v in obj.data.vertices if v.co.x > 0}
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_mode(type="VERT")
    bpy.ops.mesh.select_all(action="DESELECT")
    edited = bmesh.from_edit_mesh(obj.data)
    for vertex in edited.verts:
        vertex.select = vertex.index in wanted
    bmesh.update_edit_mesh(obj.data)
    assert bpy.ops.fillwright.work_area_from_selection() == {"FINISHED"}
    assert bpy.context.mode == "OBJECT"
    assert marked(obj) == wanted
    assert own().use_work_area
    run()
    depth = np.empty(len(obj.data.vertices), dtype=np.float32)
    obj.data.attributes["fillwright_depth_mm"].data.foreach_get("value", depth)
    assert set(np.flatnonzero(np.isfinite(depth)).tolist()) <= wanted
    assert [area.name for area in own().areas] == ["Low 1"], "the bump lies outside"
    assert json.loads(own().record)["points"]["outside_work_area"] == len(depth) - len(wanted)
    for vertex in obj.data.vertices:
        vertex.select = False
    assert "no vertex" in refused(bpy.ops.fillwright.work_area_from_selection)
    assert marked(obj) == wanted, "a refusal changes nothing"


def test_lasso_marks_what_core_says(plate: Scene) -> None:
    obj, lasso = plate.panel_object, part("addon.marks.lasso")
    points = np.array([tuple(v.co) for v in obj.data.vertices])
    triangles = [tuple(p.vertices) for p in obj.data.polygons]
    inside = set(np.flatnonzero(inside_lasso(points, triangles, VIEW, OUTLINE)).tolist())
    assert 500 < len(inside) < 5000
    lasso.mark(bpy.context, VIEW, OUTLINE, "REPLACE")
    assert marked(obj) == inside
    left = np.array([[-2, -2], [-0.001, -2], [-0.001, 2], [-2, 2]])
    on_left = set(np.flatnonzero(inside_lasso(points, triangles, VIEW, left)).tolist())
    lasso.mark(bpy.context, VIEW, left, "ADD")
    assert marked(obj) == inside | on_left
    lasso.mark(bpy.context, VIEW, OUTLINE, "SUBTRACT")
    assert marked(obj) == on_left - inside
    obj.matrix_world = ((-1, 0, 0, 0), (0, 1, 0, 0), (0, 0, 1, 0), (0, 0, 0, 1))
    bpy.context.view_layer.update()
    lasso.mark(bpy.context, VIEW, left, "REPLACE")
    assert marked(obj) == {i for i, p in enumerate(points) if p[0] > 1e-3}, "the mirrored plate's other side"


def test_painting_starts_on_the_work_area(plate: Scene) -> None:
    assert bpy.ops.fillwright.work_area_paint() == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"
    assert plate.panel_object.vertex_groups.active.name == "Work Area"
    bpy.ops.object.mode_set(mode="OBJECT")


def test_the_sidebar_says_what_the_record_says(plate: Scene) -> None:
    shown = part("addon.sidebar.shown").shown
    assert shown(bpy.context.scene) is None
    run()
    record = json.loads(own().record)
    for system, unit in (("METRIC", "mm"), ("IMPERIAL", "inch")):
        bpy.context.scene.unit_settings.system = system
        said = shown(bpy.context.scene)
        assert [tuple(vars(line).values()) for line in said.results] == [
            tuple(vars(line).values()) for line in result_lines(record, unit)
        ]
        assert len(said.condition) == len(condition_lines(record, unit))
    assert said.cautions == tuple((one["title"], tuple(one["sentences"])) for one in record["cautions"])


def test_settings_and_meshes_out_of_date(plate: Scene) -> None:
    run()
    assert not own().out_of_date
    bpy.context.view_layer.update()
    assert not own().out_of_date, "our own writing is no change"
    changes = {"risk": 0.1, "material": "polyester", "panel_unit": "CM", "painted": "PAINTED", "hand": "NEW",
               "line_up_uncertainty_mm": 0.3, "use_work_area": True, "scanner": "HOBBY_LIGHT"}
    for name, other in changes.items():
        before = getattr(own(), name)
        setattr(own(), name, other)
        assert own().out_of_date, name
        setattr(own(), name, before)
        assert not own().out_of_date, f"{name} is as it was"
    plate.target_object.location.x = 1.0
    bpy.context.view_layer.update()
    assert own().out_of_date
    run()
    assert not own().out_of_date
    plate.panel_object.data.vertices[50].co.z += 0.1
    plate.panel_object.data.update()
    bpy.context.view_layer.update()
    assert own().out_of_date


def test_what_is_not_of_the_plan_changes_nothing(plate: Scene) -> None:
    other = bpy.data.objects.new("Other", plate.target_object.data.copy())
    bpy.context.scene.collection.objects.link(other)
    run()
    other.location.x = 100
    plate.panel_object.select_set(True)
    plate.panel_object.name = "Renamed"
    bpy.context.view_layer.update()
    assert not own().out_of_date
    assert part("addon.state.scene_state").carriers(bpy.context.scene) == [own().panel]


def test_a_deleted_panel(plate: Scene) -> None:
    """Blender's Delete takes it out of the scene; the settings that point at it keep it in the file."""
    run()
    for obj in bpy.context.scene.objects:
        obj.select_set(obj.name == plate.panel)
    bpy.ops.object.delete()
    bpy.context.view_layer.update()
    assert own().out_of_date
    assert "not in this scene" in refused(bpy.ops.fillwright.plan)


def test_another_object_chosen(plate: Scene) -> None:
    """Another shape, another panel; one that is the same in the same place gives the same plan, so that still holds."""
    run()
    raised = plate.target_object.copy()
    raised.location.z = 0.5
    twin = plate.target_object.copy()
    for obj in (raised, twin):
        bpy.context.scene.collection.objects.link(obj)
    bpy.context.view_layer.update()
    assert not own().out_of_date
    for role, other in (("target", raised), ("panel", twin), ("target", None)):
        before = getattr(own(), role)
        setattr(own(), role, other)
        assert own().out_of_date, role
        setattr(own(), role, before)
        assert not own().out_of_date, f"{role} is as it was"
    own().target = twin
    assert not own().out_of_date


@pytest.mark.parametrize("how", ["deleted", "taken out", "put in"])
@pytest.mark.parametrize("role", ["panel", "target"])
def test_a_mesh_of_a_collection_comes_or_goes(plate: Scene, role: str, how: str) -> None:
    many, scene = bpy.data.collections.new("Many"), bpy.context.scene
    scene.collection.children.link(many)
    far = plate.target_object.copy()
    far.data, far.location.x = far.data.copy(), 300.0
    more = far.copy()
    scene.collection.objects.link(more)
    for obj in (getattr(plate, f"{role}_object"), far):
        many.objects.link(obj)
    setattr(own(), f"{role}_collection", many)
    run()
    bpy.context.view_layer.update()
    assert not own().out_of_date
    if how == "deleted":
        bpy.data.objects.remove(far)
    elif how == "taken out":
        many.objects.unlink(far)
    else:
        many.objects.link(more)
    bpy.context.view_layer.update()
    assert own().out_of_date


@pytest.fixture
def own_materials(tmp_path: Path) -> Iterator[Path]:
    """The user's own material file, chosen in the preferences; a copy of ours to begin with."""
    names = part("addon.names.choices")
    path = tmp_path / "mine ü.toml"
    path.write_text(BUILT_IN.read_text(encoding="utf-8"), encoding="utf-8")
    names.preferences().materials_file = str(path)
    yield path
    names.preferences().materials_file = ""


def test_a_material_s_figures_are_changed(plate: Scene, own_materials: Path) -> None:
    run()
    bpy.context.view_layer.update()
    assert not own().out_of_date, "a copy of ours has the same figures"
    text = own_materials.read_text(encoding="utf-8")
    own_materials.write_text(text + "\n# a remark changes no figure\n", encoding="utf-8")
    bpy.context.view_layer.update()
    assert not own().out_of_date
    name = own().material
    density = f"{part('core.bench.materials').load()[name].density_g_cm3:g}"
    assert density in text
    own_materials.write_text(text.replace(f"density_g_cm3 = {density}", "density_g_cm3 = 7.77"), encoding="utf-8")
    plate.panel_object.update_tag()
    bpy.context.view_layer.update()
    assert own().out_of_date
    part("addon.names.choices").preferences().materials_file = ""
    assert not own().out_of_date, "our own figures are those of the plan again"


def test_out_of_date_through_undo_and_redo(plate: Scene) -> None:
    """Blender notes a step before it tells that something has moved: the note alone would be wrong after redo."""
    run()
    bpy.ops.ed.undo_push(message="planned")
    plate.panel_object.location.x = 2.0
    bpy.ops.ed.undo_push(message="moved")
    bpy.context.view_layer.update()
    assert own().out_of_date
    bpy.ops.ed.undo()
    assert not own().out_of_date
    bpy.ops.ed.redo()
    assert own().out_of_date
    bpy.ops.ed.undo()
    assert not own().out_of_date


def test_saved_loaded_and_appended(plate: Scene, tmp_path: Path) -> None:
    run()
    own().risk = 0.2
    bpy.context.scene.name = "Job"
    said = [line.value for line in part("addon.sidebar.shown").shown(bpy.context.scene).results]
    path = str(tmp_path / "job ü.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert own().out_of_date
    own().risk = 0.05
    assert not own().out_of_date
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    bpy.data.objects.new(plate.panel, None)  # so that the appended one gets another name
    bpy.ops.wm.append(filename="Job", directory=path + "/Scene/")
    scene = bpy.data.scenes["Job"]
    assert scene.fillwright.panel.name != plate.panel
    assert part("addon.state.scene_state").carriers(scene) == [scene.fillwright.panel]
    assert [line.value for line in part("addon.sidebar.shown").shown(scene).results] == said
    assert [area.name for area in scene.fillwright.areas] == ["Low 1", "High 1"]
    assert "fillwright_depth_mm" in scene.fillwright.panel.data.attributes


def test_go_to_area_needs_an_area(plate: Scene) -> None:
    assert not bpy.ops.fillwright.go_to_area.poll()
    run()
    assert bpy.ops.fillwright.go_to_area.poll()
    own().active_area = 1  # without a window there is no view to fly; it must not fail


def test_every_command_is_in_the_menu() -> None:
    """Search finds only what some menu holds."""
    ids = part("addon.names.ids")
    listed = {name for group in ids.MENU for name in group}
    there = {f"fillwright.{name}" for name in dir(bpy.ops.fillwright)}
    assert listed <= there
    assert there - listed <= {ids.SIZE_FROM_TAPE, ids.APPLY}


def test_every_property_and_command_tells_what_it_does() -> None:
    """Tooltips of one sentence, without a full stop (Blender's own rule for them)."""
    kept_inside = {"name", "rna_type", "record", "plan_id", "planned_mm_per_unit", "made_with",
                   "made_from", "out_of_date", "show_map", "map_kind", "panel_mm_per_unit"}
    for prop in own().bl_rna.properties:
        if prop.type != "COLLECTION" and prop.identifier not in kept_inside:
            assert prop.description, prop.identifier
            assert not prop.description.endswith("."), prop.identifier
    for name in dir(bpy.ops.fillwright):
        said = getattr(bpy.ops.fillwright, name).get_rna_type().description
        assert said, name
        assert not said.endswith("."), name


def test_marks_are_painted_in_chalk_and_the_users_colours_of_weights_come_back(plate: Scene) -> None:
    """Also where Blender was killed meanwhile: what the user had is kept in the preferences."""
    view, grey = bpy.context.preferences.view, part("addon.marks.chalk_grey")
    grey.give_back()  # no timer has done it after another test
    view.use_weight_color_range = False
    view.weight_color_range.elements[0].color = (0.1, 0.7, 0.2, 1.0)

    def state() -> list[object]:
        stops = view.weight_color_range.elements
        return [view.use_weight_color_range, [(round(s.position, 5), [round(c, 5) for c in s.color]) for s in stops]]

    before = state()
    assert bpy.ops.fillwright.work_area_paint() == {"FINISHED"}
    assert view.use_weight_color_range
    low, high = (list(view.weight_color_range.evaluate(at))[:3] for at in (0.4, 0.6))
    assert max(low) < 0.4
    assert min(high) > 0.8
    assert max(high) - min(high) < 0.1  # chalk: no hue to speak of
    assert grey._look() is not None
    grey.take()  # a second mark: what the user had stays kept
    bpy.ops.object.mode_set(mode="OBJECT")
    assert grey._look() is None
    assert state() == before


def test_settings_in_inches_are_another_face_of_the_same_number(plate: Scene) -> None:
    """One inch is 25.4 mm (NIST Special Publication 811, 2008); a plan goes out of date by either."""
    own = bpy.context.scene.fillwright
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}
    groups = {own: ("true_mm", "reach_mm", "bump_spacing_mm", "line_up_uncertainty_mm", "paint_mm", "tested_error_mm",
                    "tested_length_mm"), own.shaping: ("old_paint_mm", "filler_mm", "skin_mm")}
    for group, names in groups.items():
        for name in names:
            twin, before = f"{name.removesuffix('_mm')}_in", getattr(group, name)
            assert getattr(group, twin) == pytest.approx(before / 25.4, rel=1e-6)
            told = [group.bl_rna.properties[each] for each in (name, twin)]
            assert told[1].description == told[0].description.replace("millimetres", "inches")
            assert "mm" not in told[1].name
            assert "millimetres" in told[0].description
    own.true_in = 0.02
    assert own.true_mm == pytest.approx(0.508)
    assert own.out_of_date
    own.true_mm = 0.25
    assert not own.out_of_date
