"""Line Up in Blender moves the panel's objects as the plain function says and touches no mesh; points are clicked."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import bpy
import numpy as np
import pytest
from mathutils import Matrix, Vector

from tests.addon.conftest import part, refused
from tests.addon.core_command import core, write_obj
from tests.addon.plain_shapes import plain_shape, points
from tests.addon.scenes import SAMPLE, everything
from tests.addon.shape_scenes import crowned, own, set_out

OPS = bpy.ops.fillwright
AWAY = Matrix.Translation((700, -300, 120)) @ Matrix.Rotation(0.6, 4, (1, 2, 3))
PAIRS = ((-120, -110), (125, -100), (110, 120), (-115, 115))


@pytest.fixture
def panel(empty: bpy.types.Scene) -> bpy.types.Object:
    """The dented panel far from its shape."""
    obj, target = crowned("Wing"), crowned("Shape", 0.0, 0.0)
    obj.matrix_world = AWAY
    bpy.context.view_layer.update()
    set_out(obj, target)
    return obj


def triangles(obj: bpy.types.Object) -> np.ndarray:
    """An object's triangles, (m, 3)."""
    return np.array([tuple(polygon.vertices) for polygon in obj.data.polygons])


def click_pairs(panel: bpy.types.Object, off_mm: float = 0.0) -> None:
    """Pairs of matching points, each a little wrong, as the clicks keep them."""
    module, pairs = part("addon.line_up.landmarks"), own().shaping.pairs
    target = own().target
    for number, (x, y) in enumerate(PAIRS):
        near = min(target.data.vertices, key=lambda v: (v.co.x - x) ** 2 + (v.co.y - y) ** 2).co
        wrong = off_mm * Vector((np.cos(number), np.sin(number), 0.0))
        module.add(pairs, panel, panel.matrix_world @ (near + wrong), True)
        module.add(pairs, target, target.matrix_world @ near, False)


def in_place(obj: bpy.types.Object) -> None:
    """Panel and shape come from one formula: its place is the shape's own, as closely as the line-up says of itself."""
    slide = json.loads(own().shaping.line_up)["slide_u95_mm"]
    assert slide < 0.2
    np.testing.assert_allclose(points(obj)[:, :2], points(own().target)[:, :2], atol=slide)


@pytest.mark.parametrize("start", ["ITSELF", "POINTS"])
def test_operator_and_plain_function_agree(start: str, panel: bpy.types.Object, tmp_path: Path) -> None:
    if start == "POINTS":
        click_pairs(panel, 5.0)
    stood = np.array(panel.matrix_world)
    asked = part("addon.line_up.line_up").landmarks(own()) if start == "POINTS" else None
    figures, _ = plain_shape("line_up", tmp_path, {"panel": panel, "target": own().target}, landmarks=asked)
    assert OPS.line_up(start=start) == {"FINISHED"}
    record = json.loads(own().shaping.line_up)
    np.testing.assert_array_equal(record["matrix"], figures["matrix"])
    assert record["residual_mm"] == figures["residual_mm"]
    np.testing.assert_allclose(np.array(panel.matrix_world), np.array(figures["matrix"]) @ stood, atol=1e-4)
    in_place(panel)


def test_meshes_are_untouched_and_it_is_one_undo_step(panel: bpy.types.Object) -> None:
    """All that a mesh had is there to the last bit; the map beside it is new."""
    bpy.ops.ed.undo_push(message="before")
    before = everything()
    assert OPS.line_up("EXEC_DEFAULT", True) == {"FINISHED"}
    after = everything()
    added = {name: set(bits) - set(before["meshes"][name]) for name, bits in after["meshes"].items()}
    assert added == {"Wing": {"fillwright_line_up_mm", "fillwright_line_up_map"}, "Shape": set()}
    for name in added["Wing"]:
        del after["meshes"]["Wing"][name]
    assert after["meshes"] == before["meshes"]
    assert after["objects"] != before["objects"]
    assert bpy.ops.ed.undo() == {"FINISHED"}
    assert everything() == before
    assert not own().shaping.line_up


def test_a_panel_in_metres_comes_into_the_shapes_millimetres(panel: bpy.types.Object) -> None:
    panel.matrix_world = Matrix.Scale(0.001, 4) @ AWAY
    bpy.context.view_layer.update()
    own().panel_unit = "M"
    assert OPS.line_up() == {"FINISHED"}
    assert own().panel_unit == "MM"
    in_place(panel)
    assert OPS.plan() == {"FINISHED"}


def test_a_collection_with_parents_moves_as_one(empty: bpy.types.Scene) -> None:
    whole, target = crowned("Whole"), crowned("Shape", 0.0, 0.0)
    group = bpy.data.collections.new("Scan")
    bpy.context.scene.collection.children.link(group)
    parts = []
    for name, keep in (("Left", lambda x: x < 0), ("Right", lambda x: x >= 0)):
        mesh = bpy.data.meshes.new(name)
        faces = [tuple(p.vertices) for p in whole.data.polygons if keep(p.center.x)]
        mesh.from_pydata([tuple(v.co) for v in whole.data.vertices], [], faces)
        parts.append(bpy.data.objects.new(name, mesh))
        group.objects.link(parts[-1])
    parts[0].matrix_world = AWAY
    parts[1].parent = parts[0]  # and takes it along
    bpy.data.objects.remove(whole)
    bpy.context.view_layer.update()
    set_out(None, target)
    own().panel_collection = group
    assert OPS.line_up() == {"FINISHED"}
    for part_of_it in parts:
        in_place(part_of_it)


def test_the_plan_takes_over_what_the_line_up_is_worth(panel: bpy.types.Object) -> None:
    OPS.line_up()
    worth = json.loads(own().shaping.line_up)["uncertainty_mm"]["rms"]
    assert own().line_up_uncertainty_mm == pytest.approx(worth)
    OPS.plan()
    assert json.loads(own().record)["settings"]["line_up_uncertainty_mm"] == pytest.approx(worth)


def gives_or_takes() -> list[tuple[str, int, float, float]]:
    """Each area of the plan: kind, number, volume and its 95 % uncertainty."""
    return [(a["kind"], a["number"], a["volume_mm3"], a["volume_u95_mm3"]) for a in json.loads(own().record)["areas"]]


def test_a_plan_goes_by_the_line_up_as_the_command_does(panel: bpy.types.Object, tmp_path: Path) -> None:
    """The command lines the same meshes up itself; both round at Blender's single precision and the file's 1 nm."""
    target = own().target
    files = [write_obj(tmp_path / f"{obj.name}.obj", points(obj), triangles(obj)) for obj in (panel, target)]
    stated = {name: json.dumps(value) for name, value in part("addon.scene.basis").settings_of(own()).items()
              if value is not None}
    (tmp_path / "settings.toml").write_text("\n".join(f"{k} = {v}" for k, v in stated.items()), encoding="utf-8")
    words = ["plan", *files, "--panel-unit", "mm", "--target-unit", "mm", "--out", str(tmp_path / "out")]
    ran = core(*words, "--line-up", "--settings", str(tmp_path / "settings.toml"))
    assert ran.returncode == 0, ran.stderr
    wanted = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))["areas"]
    OPS.line_up()
    own().line_up_uncertainty_mm = 0.3  # is not asked
    OPS.plan()
    by_place = gives_or_takes()
    assert [(kind, number) for kind, number, *_ in by_place] == [(a["kind"], a["number"]) for a in wanted]
    for (_, _, volume, u95), area in zip(by_place, wanted, strict=True):
        assert volume == pytest.approx(area["volume_mm3"], rel=1e-3)
        assert u95 == pytest.approx(area["volume_u95_mm3"], rel=1e-3)

    own().line_up_by_place = False
    assert own().out_of_date
    OPS.plan()
    assert gives_or_takes()[0][3] > 5 * by_place[0][3]
    own().line_up_by_place = True
    assert own().out_of_date
    panel.location.x += 0.002  # hardly moves the volume, but the line-up does not stand any more
    OPS.plan()
    assert gives_or_takes()[0][2] == pytest.approx(by_place[0][2], rel=0.02)
    assert gives_or_takes()[0][3] > 5 * by_place[0][3]


def test_a_plan_by_the_line_up_in_another_unit(panel: bpy.types.Object) -> None:
    """The same job in metres far from the origin: the covariance turns about the same point of the panel."""
    OPS.line_up()
    OPS.plan()
    in_mm, metres = gives_or_takes(), Matrix.Translation((3.0, -2.0, 5.0)) @ Matrix.Scale(0.001, 4)
    for obj in (panel, own().target):
        obj.matrix_world = metres @ obj.matrix_world
    bpy.context.view_layer.update()
    own().panel_unit = own().target_unit = "M"
    assert not part("addon.scene.lined_up").stands(own())
    OPS.line_up()
    OPS.plan()
    assert len(gives_or_takes()) == len(in_mm) > 0
    for found, wanted in zip(gives_or_takes(), in_mm, strict=True):
        assert found[:2] == wanted[:2]
        assert found[2:] == pytest.approx(wanted[2:], rel=2e-3)


@pytest.mark.parametrize("change", ["moved", "unit", "other shape", "undone"])
def test_it_is_told_when_a_line_up_does_not_stand(change: str, panel: bpy.types.Object) -> None:
    module, target = part("addon.scene.lined_up"), own().target
    assert not module.stands(own())
    OPS.line_up()
    OPS.plan()
    assert module.stands(own())
    assert not own().out_of_date
    if change == "moved":
        panel.location.x += 0.5
    if change == "unit":
        own().panel_unit = "CM"
    if change == "other shape":  # in the same place
        own().target = crowned("Other", 0.0, 0.0)
    if change == "undone":
        own().shaping.line_up = ""
    bpy.context.view_layer.update()
    assert not module.stands(own())
    assert module.placing(own()) is None
    own().panel_unit = own().panel_unit  # as any change of a setting, it has the plan looked at again
    assert own().out_of_date
    if change == "other shape":
        own().target = target
        assert module.stands(own())
        assert not own().out_of_date


def test_a_line_up_stands_after_saving_and_loading(panel: bpy.types.Object, tmp_path: Path) -> None:
    OPS.line_up()
    OPS.plan()
    name = panel.name
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "kept.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "kept.blend"))
    module = part("addon.scene.lined_up")
    assert module.stands(own())
    bpy.data.objects[name].name = "Wing of another name"
    assert module.stands(own())
    part("addon.scene.staleness").look_again(bpy.context.scene, bpy.context.evaluated_depsgraph_get())
    assert not own().out_of_date


def test_points_follow_their_objects(panel: bpy.types.Object) -> None:
    module = part("addon.line_up.line_up")
    click_pairs(panel)
    before = module.landmarks(own())
    panel.matrix_world = Matrix.Translation((0, 0, 50)) @ panel.matrix_world
    bpy.context.view_layer.update()
    for (one, other), (was, as_before) in zip(module.landmarks(own()), before, strict=True):
        np.testing.assert_allclose(one, np.array(was) + (0, 0, 50), atol=1e-3)
        assert other == as_before


def test_points_are_taken_back_and_cleared(panel: bpy.types.Object) -> None:
    module, pairs = part("addon.line_up.landmarks"), own().shaping.pairs
    click_pairs(panel)
    module.take_back(pairs)
    assert (len(pairs), module.is_open(pairs)) == (4, True)
    assert len(part("addon.line_up.line_up").landmarks(own())) == 3
    module.take_back(pairs)
    assert (len(pairs), module.is_open(pairs)) == (3, False)
    module.take_back(pairs)
    module.tidy(own().shaping)
    assert len(pairs) == 2
    assert OPS.clear_matching_points() == {"FINISHED"}
    assert len(pairs) == 0
    assert not OPS.clear_matching_points.poll()


def test_side_by_side_gives_everything_back(panel: bpy.types.Object) -> None:
    """To the last bit: places, what is hidden, and whether the plan holds."""
    target, bystander = own().target, crowned("Bystander")
    OPS.line_up()
    OPS.plan()
    target.hide_set(True)
    panel.rotation_mode = "QUATERNION"
    bpy.context.view_layer.update()
    OPS.plan()
    module = part("addon.line_up.side_by_side")
    before = everything(), [o.visible_get() for o in (panel, target, bystander)], own().out_of_date
    region = SimpleNamespace(type="WINDOW", width=1000, height=700)
    look = SimpleNamespace(view_location=Vector(), view_distance=1.0, view_rotation=Matrix().to_quaternion(),
                           view_perspective="PERSP")
    space = SimpleNamespace(region_3d=look, clip_end=100.0, lens=50.0)
    area = SimpleNamespace(type="VIEW_3D", regions=[region], spaces=SimpleNamespace(active=space))
    context = SimpleNamespace(scene=bpy.context.scene, view_layer=bpy.context.view_layer, area=area,
                              evaluated_depsgraph_get=bpy.context.evaluated_depsgraph_get)
    shown = module.SideBySide.begin(context)
    assert [o.visible_get() for o in (panel, target, bystander)] == [True, True, False]
    right = np.array(look.view_rotation @ Vector((1, 0, 0)))
    assert (points(panel) @ right).max() < (points(target) @ right).min()
    assert look.view_perspective == "ORTHO"
    shown.end(context)
    assert (everything(), [o.visible_get() for o in (panel, target, bystander)], own().out_of_date) == before
    assert (look.view_perspective, look.view_distance, space.clip_end) == ("PERSP", 1.0, 100.0)


def test_misuse_is_told_in_one_sentence(panel: bpy.types.Object) -> None:
    before = everything()
    assert "three or more are wanted" in refused(OPS.line_up, start="POINTS")
    module = part("addon.line_up.landmarks")
    for _ in range(3):
        module.add(own().shaping.pairs, panel, panel.matrix_world @ Vector((10, 10, 0)), True)
        module.add(own().shaping.pairs, own().target, Vector((10, 10, 0)), False)
    assert refused(OPS.line_up, start="POINTS")
    held = panel.constraints.new("LIMIT_LOCATION")
    held.use_min_x = held.use_max_x = True
    held.min_x = held.max_x = 700.0
    assert "held by a constraint" in refused(OPS.line_up)
    panel.constraints.remove(held)
    bpy.context.view_layer.update()
    assert everything() == before
    own().target = panel
    assert "same object" in refused(OPS.line_up)


def test_moved_while_it_worked(panel: bpy.types.Object, monkeypatch: pytest.MonkeyPatch) -> None:
    kind = part("addon.child.running").Child
    start = kind.start

    def start_and_move(child: object, job: str) -> None:
        start(child, job)
        panel.location.x += 3.0
        bpy.context.view_layer.update()

    monkeypatch.setattr(kind, "start", start_and_move)
    assert "moved meanwhile" in refused(OPS.line_up)
    assert not own().shaping.line_up


def test_the_sample_from_another_frame(empty: bpy.types.Scene) -> None:
    """The tailgate thrown out of place comes back by itself to where its file has it."""
    bpy.ops.wm.ply_import(filepath=str(SAMPLE / "tailgate_scan.ply"))
    panel = bpy.context.object
    bpy.ops.wm.stl_import(filepath=str(SAMPLE / "tailgate_shape.stl"))
    set_out(panel, bpy.context.object)
    OPS.line_up()
    wanted = points(panel)
    panel.matrix_world = AWAY @ panel.matrix_world
    bpy.context.view_layer.update()
    OPS.line_up()
    np.testing.assert_allclose(points(panel), wanted, atol=0.1)
