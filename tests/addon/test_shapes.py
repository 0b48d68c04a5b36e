"""Ways to a finished shape in Blender give what the plain functions give; undo; one sentence for each misuse."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Quaternion

from tests.addon.conftest import part, refused
from tests.addon.plain_shapes import damage, plain_shape, points
from tests.addon.scenes import SAMPLE, everything
from tests.addon.shape_scenes import AT, DENT_MM, WIDE_MM, crown, crowned, mark_damage, own, set_out

OPS = bpy.ops.fillwright


@pytest.fixture
def panel(empty: bpy.types.Scene) -> bpy.types.Object:
    """The dented panel, alone, somewhere in the scene."""
    obj = crowned("Wing")
    obj.matrix_world = Matrix.Translation((400, -250, 90)) @ Matrix.Rotation(0.7, 4, (1, 2, 3))
    bpy.context.view_layer.update()
    set_out(obj)
    return obj


@pytest.fixture
def both(panel: bpy.types.Object) -> bpy.types.Object:
    """The panel with its undamaged shape in the same place."""
    target = crowned("Shape", 0.0, 0.0)
    target.matrix_world = panel.matrix_world.copy()
    bpy.context.view_layer.update()
    set_out(panel, target)
    return panel


def same(obj: bpy.types.Object, wanted: np.ndarray) -> None:
    """The object's vertices are the plain function's, rounded once to Blender's single precision."""
    np.testing.assert_array_equal(points(obj).astype(np.float32), wanted.astype(np.float32))


def local(obj: bpy.types.Object, places: np.ndarray) -> np.ndarray:
    """Places of the scene in an object's own coordinates."""
    back = np.linalg.inv(np.array(obj.matrix_world, dtype=np.float64))
    return places @ back[:3, :3].T + back[:3, 3]


def test_good_side(panel: bpy.types.Object, tmp_path: Path) -> None:
    assert OPS.from_the_good_side() == {"FINISHED"}
    figures, wanted = plain_shape("good_side", tmp_path, {"body": panel})
    made = own().target
    same(made, wanted)
    assert json.loads(made["fillwright_shape"])["off_mm_95"] == figures["off_mm_95"]
    assert [c.name for c in made.users_collection] == ["Fillwright"]
    assert panel.visible_get()
    assert not made.visible_get()  # it would hide the damage
    # Closed form: the crown is even in x, so over the dent the mirrored side lies where the panel should be.
    seen = local(panel, points(made))
    near = np.hypot(seen[:, 0] - AT[0], seen[:, 1] - AT[1]) < 20
    assert near.sum() > 50
    assert np.abs(seen[near, 2] - crown(seen[near, 0], seen[near, 1])).max() < 0.15


def test_the_plane_is_shown_and_may_be_the_start(panel: bpy.types.Object) -> None:
    OPS.from_the_good_side()
    plane = bpy.data.objects["Symmetry Plane"]
    assert [c.name for c in plane.users_collection] == ["Fillwright"]
    normal = np.array(plane.matrix_world.to_3x3().col[2])
    across = np.array(panel.matrix_world.to_3x3().col[0])
    assert abs(normal @ across) > np.cos(np.radians(0.1))  # x = 0 in the panel's own coordinates
    assert abs(local(panel, np.array(plane.matrix_world.translation)[None])[0, 0]) < 0.05
    first = points(own().target)
    own().shaping.start = plane
    plane.matrix_world = plane.matrix_world @ Matrix.Rotation(0.03, 4, "X") @ Matrix.Translation((0, 0, 2.0))
    OPS.from_the_good_side()
    np.testing.assert_allclose(points(own().target), first, atol=0.02)
    assert [o.name for o in bpy.data.objects if "Plane" in o.name] == ["Symmetry Plane"]


def test_plane_from_points(panel: bpy.types.Object) -> None:
    place = part("addon.finished_shape.plane_from_points")
    three = [panel.matrix_world @ place.Vector(near) for near in ((1, -90, 0), (-1, 90, 0), (0, 0, 40))]
    place.set_start(bpy.context, three)
    assert own().shaping.start.name == "Symmetry Plane"
    assert OPS.from_the_good_side() == {"FINISHED"}
    with pytest.raises(part("addon.scene.scene_meshes").SceneError, match="on one line"):
        place.set_start(bpy.context, [three[0], three[1], 0.5 * (three[0] + three[1])])


def test_carry_through(panel: bpy.types.Object, tmp_path: Path) -> None:
    mark_damage(panel)
    assert OPS.carry_through() == {"FINISHED"}
    figures, wanted = plain_shape("carry_through", tmp_path, {"panel": panel}, marked="panel", creases=[], lines=True)
    same(own().target, wanted)
    assert json.loads(own().target["fillwright_shape"])["trust_mm_95"] == figures["trust_mm_95"]
    # Closed form: where it was damaged the shape is the crown again.
    seen = local(panel, points(own().target))
    inside = np.hypot(seen[:, 0] - AT[0], seen[:, 1] - AT[1]) < 40
    assert np.abs(seen[inside, 2] - crown(seen[inside, 0], seen[inside, 1])).max() < 0.2


def test_lines_that_are_continued_are_drawn_and_can_be_refused(panel: bpy.types.Object) -> None:
    """A swage through the damage: drawn as edges in front of the panel, and gone again once it is refused."""
    mark_damage(panel)
    for vertex in panel.data.vertices:
        x, y = vertex.co[:2]
        vertex.co.z += 5 * np.cos(np.pi * (y - AT[1]) / 24) ** 2 if abs(y - AT[1]) < 12 else 0.0
    assert OPS.carry_through() == {"FINISHED"}
    drawn = bpy.data.objects["Lines Carried Through"]
    seen = local(panel, points(drawn))
    assert drawn.show_in_front
    assert len(drawn.data.edges) == len(seen) - 1
    assert np.abs(seen[:, 1] - AT[1]).max() < 2
    record = json.loads(own().target["fillwright_shape"])
    said = part("core.report.shape_lines").shape_lines(record, "mm")
    assert ("Continued", "1 line") in [(line.name, line.value) for line in said]
    own().shaping.lines = False
    assert OPS.carry_through() == {"FINISHED"}
    assert len(drawn.data.edges) == 0


def test_several_places_carry_their_numbers_and_new_marks_make_the_figures_old(panel: bpy.types.Object) -> None:
    """Each number stands within a letter's height of the middle of its own place, in the record's order."""
    mark_damage(panel)
    x, y = local(panel, points(panel))[:, :2].T
    elsewhere = (-60.0, -40.0)
    group = panel.vertex_groups["Damage"]
    group.add(np.flatnonzero(np.hypot(x - elsewhere[0], y - elsewhere[1]) < 15).tolist(), 1.0, "REPLACE")
    own().shaping.way, own().shaping.marks_changed = "CARRY_THROUGH", True
    assert OPS.carry_through() == {"FINISHED"}
    assert not own().shaping.marks_changed
    record = json.loads(own().target["fillwright_shape"])
    middles = local(panel, np.array(record["places_at_mm"]))[:, :2]
    apart = np.linalg.norm(middles[:, None] - np.array([AT, elsewhere])[None], axis=2)
    assert sorted(apart.argmin(axis=1).tolist()) == [0, 1]
    assert apart.min(axis=1).max() < 5.0
    drawn = bpy.data.objects["Places Carried Through"]
    written = local(panel, points(drawn))[:, :2]
    assert drawn.show_in_front
    near = np.linalg.norm(written[:, None] - middles[None], axis=2).min(axis=1)
    assert len(written) > 5
    assert near.max() < 30.0
    for k in range(len(panel.data.vertices)):
        panel.data.vertices[k].select = k < 40
    assert OPS.work_area_from_selection(group="DAMAGE") == {"FINISHED"}
    assert own().shaping.marks_changed


@pytest.mark.parametrize("side", ["LEFT", "RIGHT"])
def test_the_good_side_may_be_left_or_right_in_the_view(panel: bpy.types.Object, side: str) -> None:
    """Seen square on with the dent (x > 0) to the right: the left side is good; seen along the plane neither is."""
    view = next(area for area in bpy.context.screen.areas if area.type == "VIEW_3D").spaces.active.region_3d
    view.view_rotation = panel.matrix_world.to_quaternion()
    own().shaping.good = side
    assert OPS.from_the_good_side() == {"FINISHED"}
    kept = local(panel, points(own().target))[:, 0]
    assert (np.sign(kept[np.abs(kept) > 6]) == (1 if side == "LEFT" else -1)).all()  # the mirror image lies opposite
    view.view_rotation = view.view_rotation @ Quaternion((0, 1, 0), 1.5)
    assert "both sides lie to the left" in refused(OPS.from_the_good_side)


def test_creases_are_taken_from_a_curve(panel: bpy.types.Object, tmp_path: Path) -> None:
    mark_damage(panel)
    curve = bpy.data.curves.new("Swage", "CURVE")
    curve.dimensions = "3D"
    spline = curve.splines.new("POLY")
    spline.points.add(2)
    line = [(78.0, -140.0, -25.0), (78.0, 0.0, -7.0), (78.0, 140.0, -16.0)]
    for point, place in zip(spline.points, line, strict=True):
        point.co = (*place, 1.0)
    swage = bpy.data.objects.new("Swage", curve)
    bpy.context.scene.collection.objects.link(swage)
    swage.matrix_world = panel.matrix_world.copy()
    bpy.context.view_layer.update()
    own().shaping.creases = swage
    assert OPS.carry_through() == {"FINISHED"}
    drawn = [[tuple(swage.matrix_world @ part("addon.finished_shape.shape_object").Vector(place)) for place in line]]
    _, wanted = plain_shape("carry_through", tmp_path, {"panel": panel}, marked="panel", creases=drawn)
    np.testing.assert_allclose(points(own().target), wanted, atol=1e-4)
    own().shaping.creases = panel
    assert "has faces" in refused(OPS.carry_through)


def test_as_it_was(both: bpy.types.Object, tmp_path: Path) -> None:
    old = own().target
    own().target = None
    own().shaping.old, own().shaping.old_paint_mm, own().painted = old, 0.25, "PAINTED"
    assert OPS.as_it_was() == {"FINISHED"}
    asked = {"old": old, "panel": both}
    figures, wanted = plain_shape("as_was", tmp_path, asked, paint_mm=own().shaping.old_paint_mm)
    same(own().target, wanted)
    record = json.loads(own().target["fillwright_shape"])
    assert record["old_filler_mm"]["max"] == figures["old_filler_max_mm"]
    assert own().painted == "BARE"
    mark_damage(old)
    OPS.as_it_was()
    _, wanted = plain_shape("as_was", tmp_path, asked, marked="old", paint_mm=own().shaping.old_paint_mm)
    same(own().target, wanted)


def test_metal_level_and_build_over(both: bpy.types.Object, tmp_path: Path) -> None:
    shape = own().target
    own().shaping.filler_mm = 1.5
    assert OPS.metal_level() == {"FINISHED"}
    _, wanted = plain_shape("metal_level", tmp_path, {"target": shape}, filler_mm=1.5)
    same(own().target, wanted)
    assert own().target.name == "Metal Level 1.5 mm"
    own().shaping.filler_mm = 3.0
    OPS.metal_level()  # from the shape again, and not from the metal level
    _, wanted = plain_shape("metal_level", tmp_path, {"target": shape}, filler_mm=3.0)
    same(own().target, wanted)
    own().shaping.skin_mm = 0.5
    assert OPS.build_over() == {"FINISHED"}
    figures, wanted = plain_shape("build_over", tmp_path, {"panel": both, "target": shape}, skin_mm=0.5)
    same(own().target, wanted)
    record = json.loads(own().target["fillwright_shape"])
    assert {key: record[key] for key in figures} == figures
    assert {"Metal Level 1.5 mm", "Metal Level 3 mm", "Build Over 0.5 mm"} <= {o.name for o in bpy.data.objects}


def test_a_scan_in_metres(panel: bpy.types.Object, tmp_path: Path) -> None:
    panel.matrix_world = Matrix.Scale(0.001, 4) @ panel.matrix_world
    bpy.context.view_layer.update()
    set_out(panel, unit="M")
    OPS.from_the_good_side()
    _, wanted = plain_shape("good_side", tmp_path, {"body": panel}, mm=1000.0)
    np.testing.assert_allclose(1000 * points(own().target), wanted, atol=2e-4)
    assert own().target_unit == "M"


def test_the_new_shape_can_be_planned_against(panel: bpy.types.Object) -> None:
    mark_damage(panel)
    OPS.carry_through()
    assert OPS.plan() == {"FINISHED"}
    low = own().areas[0]
    assert low.kind == "low"
    # A Gaussian dent in closed form; the shape carried through may be 0.04 mm off over the dent's 40 cm2.
    assert low.volume_mm3 == pytest.approx(2 * np.pi * WIDE_MM**2 * DENT_MM, rel=0.06)


def test_undo_takes_it_away(panel: bpy.types.Object) -> None:
    bpy.ops.ed.undo_push(message="before")
    before = everything()
    assert OPS.from_the_good_side("EXEC_DEFAULT", True) == {"FINISHED"}
    made = everything()
    assert bpy.ops.ed.undo() == {"FINISHED"}
    assert everything() == before
    assert own().target is None
    assert bpy.ops.ed.redo() == {"FINISHED"}
    assert everything() == made
    assert own().target.name == "Good Side"


def test_nothing_of_the_users_is_changed(panel: bpy.types.Object) -> None:
    mark_damage(panel)
    before = everything()
    for run in (OPS.from_the_good_side, OPS.carry_through, OPS.metal_level, OPS.build_over):
        assert run() == {"FINISHED"}
    after = everything()
    for name, bits in before["meshes"].items():  # to the last bit; a map's attributes stand beside what there was
        now = after["meshes"][name]
        assert {key: now[key] for key in bits} == bits
        assert set(now) - set(bits) <= {"fillwright_sides_apart_mm", "fillwright_sides_map"}
    assert set(before["objects"]) <= set(after["objects"])


def test_a_shape_is_made_anew_unless_it_was_worked_on(panel: bpy.types.Object) -> None:
    OPS.from_the_good_side()
    OPS.from_the_good_side()
    assert [o.name for o in bpy.data.objects if o.name.startswith("Good")] == ["Good Side"]
    assert [m.name for m in bpy.data.meshes if m.name.startswith("Good")] == ["Good Side"] or len(bpy.data.meshes) == 3
    own().target.data.vertices[5].co.z += 1.0
    worked_on = points(own().target)
    OPS.from_the_good_side()
    assert own().target.name == "Good Side.001"
    np.testing.assert_array_equal(points(bpy.data.objects["Good Side"]), worked_on)


def test_marks_of_two_kinds(panel: bpy.types.Object) -> None:
    rows = list(range(40, 900))
    panel.data.vertices.foreach_set("select", [k in set(rows) for k in range(len(panel.data.vertices))])
    assert OPS.work_area_from_selection(group="DAMAGE") == {"FINISHED"}
    assert np.flatnonzero(damage(panel)).tolist() == rows
    assert "Work Area" not in panel.vertex_groups
    assert not own().use_work_area
    lasso = part("addon.marks.lasso")
    view = np.array(Matrix.Scale(1 / 150, 4) @ panel.matrix_world.inverted())
    view[3, 3] = 1.0
    lasso.mark(bpy.context, view, np.array([[0.2, -0.2], [0.6, -0.2], [0.6, 0.3], [0.2, 0.3]]), "ADD", "DAMAGE")
    assert damage(panel).sum() > len(rows)
    own().shaping.way, own().shaping.old = "AS_IT_WAS", crowned("Old", 0.0)
    own().shaping.old.data.vertices.foreach_set("select", [True] * len(panel.data.vertices))
    OPS.work_area_from_selection(group="DAMAGE")
    assert damage(own().shaping.old).all()


def test_show_the_shape(both: bpy.types.Object) -> None:
    target = own().target
    target.hide_set(True)
    for shown in (True, False):
        assert OPS.show_shape() == {"FINISHED"}
        assert (target.visible_get(), both.visible_get()) == (shown, not shown)


def test_misuse_is_told_in_one_sentence(both: bpy.types.Object) -> None:
    before = everything()
    target = own().target
    assert "no damage is marked" in refused(OPS.carry_through)
    group = both.vertex_groups.new(name="Damage")
    assert "nothing is marked" in refused(OPS.carry_through)
    group.add(list(range(len(both.data.vertices))), 1.0, "REPLACE")
    assert "whole panel is marked" in refused(OPS.carry_through)
    own().shaping.body = own().shaping.partner = both
    assert "same object" in refused(OPS.from_the_good_side)
    own().shaping.old = both
    assert "same object" in refused(OPS.as_it_was)
    target.location.x += 5000
    bpy.context.view_layer.update()
    assert "line the scan up first" in refused(OPS.build_over)
    target.location.x -= 5000
    own().target = None
    for run in (OPS.metal_level, OPS.build_over, OPS.line_up):
        assert not run.poll()
    own().panel = own().shaping.body = None
    for run in (OPS.from_the_good_side, OPS.carry_through, OPS.as_it_was):
        assert not run.poll()
    own().panel, own().target = both, target
    bpy.context.view_layer.update()
    assert everything()["meshes"] == before["meshes"]
    assert [entry[0] for entry in everything()["objects"]] == [entry[0] for entry in before["objects"]]


def test_a_child_that_breaks_off_leaves_nothing(
    panel: bpy.types.Object, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "core" / "child").mkdir(parents=True)
    (tmp_path / "core" / "child" / "answer.py").write_text("import os\nos.abort()\n", encoding="utf-8")
    monkeypatch.setattr(part("addon.child.running"), "ROOT", tmp_path)
    before = everything()
    assert "ended without a word" in refused(OPS.from_the_good_side)
    assert everything() == before
    assert own().target is None


def test_the_bonnet(empty: bpy.types.Scene) -> None:
    """The second sample: its plane within 0.02 degrees and 0.05 mm of what it was made with."""
    assert OPS.load_bonnet() == {"FINISHED"}
    assert own().panel_unit == "M"
    assert OPS.from_the_good_side() == {"FINISHED"}
    truth = json.loads((SAMPLE / "bonnet_expected.json").read_text(encoding="utf-8"))["plane"]
    record = json.loads(own().target["fillwright_shape"])["plane"]
    # glTF's y up becomes Blender's z up: (x, y, z) is (x, -z, y) there (glTF 2.0, section 3.4).
    x, y, z = truth["normal"]
    normal, wanted = np.array(record["normal"]), np.array([x, -z, y])
    side = np.sign(normal @ wanted)
    assert np.degrees(np.arccos(min(1.0, abs(normal @ wanted)))) < 0.02
    middle = np.array(own().panel.matrix_world.translation)
    off_mm = (1000 * normal @ middle - record["offset_mm"]) * side - (1000 * wanted @ middle - truth["offset_mm"])
    assert abs(off_mm) < 0.05
