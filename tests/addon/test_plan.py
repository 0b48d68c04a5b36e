"""Plan the Fill in Blender gives what the plain function gives, and lives with undo, redo, saving and loading."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part
from tests.addon.plain import plain
from tests.addon.scenes import Scene, everything

DEPTH, AREA, COLOUR = "fillwright_depth_mm", "fillwright_area", "fillwright_map"


def values(obj: bpy.types.Object, name: str) -> np.ndarray:
    """An attribute's values, one for each vertex."""
    attribute = obj.data.attributes[name]
    assert attribute.domain == "POINT"
    got = np.empty(len(attribute.data), dtype=np.int32 if attribute.data_type == "INT" else np.float32)
    attribute.data.foreach_get("value", got)
    return got


def run() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


@pytest.mark.parametrize("name", ["plate", "sample"])
def test_operator_and_plain_function_agree(name: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    scene: Scene = request.getfixturevalue(name)
    run()
    own = bpy.context.scene.fillwright
    record = json.loads(own.record)
    wanted = plain(scene.panel_object, scene.target_object, record["settings"], tmp_path)
    # Blender keeps single precision: the same numbers rounded once, so compared after the same rounding.
    np.testing.assert_array_equal(values(scene.panel_object, DEPTH), wanted.depth_mm.astype(np.float32))
    np.testing.assert_array_equal(values(scene.panel_object, AREA), wanted.area)
    assert np.isfinite(wanted.depth_mm).any()
    assert record["fill_volume_mm3"] == wanted.fill_mm3
    assert max(a.minimum_overbuild_mm for a in own.areas) == pytest.approx(wanted.overbuild_mm, rel=1e-6)
    assert [area.kind for area in own.areas] == wanted.kinds
    np.testing.assert_allclose([area.volume_mm3 for area in own.areas], wanted.volumes_mm3, rtol=1e-6)
    np.testing.assert_allclose([area.depth_max_mm for area in own.areas], wanted.deepest_mm, rtol=1e-6)


def test_plate_gives_its_own_volume(plate: Scene) -> None:
    """In closed form: 2 pi s^2 h of a Gaussian dent; of the bump more lies outside, below the true tolerance."""
    run()
    low, *others = bpy.context.scene.fillwright.areas
    assert [low.name, *(area.name for area in others)] == ["Low 1", "High 1"]
    assert low.volume_mm3 == pytest.approx(2 * np.pi * 15.0**2 * 3.0, rel=0.03)
    assert others[0].volume_mm3 == pytest.approx(2 * np.pi * 10.0**2 * 1.0, rel=0.10)
    assert low.deepest_point_mm[0] == pytest.approx(10.0, abs=4.0)


def test_settings_of_the_sidebar_are_the_plans(plate: Scene) -> None:
    own = bpy.context.scene.fillwright
    own.true_mm, own.reach_mm, own.risk, own.bump_spacing_mm = 0.5, 8.0, 0.25, 64.0
    own.painted, own.paint_mm, own.material, own.surface = "PAINTED", 0.125, "polyester", "primed"
    run()
    used = json.loads(own.record)["settings"]
    length = 64.0 / (2 * np.pi)
    wanted = {"true_mm": 0.5, "reach_mm": 8.0, "risk": 0.25, "lay_correlation_mm": length, "finish_mm": 0.125}
    assert {name: used[name] for name in wanted} == pytest.approx(wanted, rel=1e-12)
    assert (used["material"], used["surface"]) == ("polyester", "primed")


@pytest.mark.parametrize("end", ["hard_min", "hard_max"])
def test_the_least_and_the_greatest_that_the_sidebar_takes_are_cores(end: str, empty: bpy.types.Scene) -> None:
    """Blender keeps single precision, in which 0.01 is less than 0.01."""
    own = empty.fillwright
    names = part("addon.names.plain_settings").PLAIN
    ends = {name: getattr(own.bl_rna.properties[name], end) for name in names}
    for name, value in ends.items():
        setattr(own, name, value)
    settings = part("addon.scene.basis").whole_settings(own)
    for name in names:
        assert getattr(settings, name) == pytest.approx(ends[name], rel=1e-6)
    own.true_mm = 0.01
    assert part("addon.scene.basis").whole_settings(own).true_mm == 0.01


def test_laid_work_is_asked_about_after_the_plan_of_the_bare_metal(plate: Scene) -> None:
    """The dent filled to 1.2 mm proud, and planned as bare metal: asked; said that it is laid: not asked."""
    run()
    own = bpy.context.scene.fillwright
    deepest, mesh = own.areas[0].deepest_point_mm[:], plate.panel_object.data
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    points = points.reshape(-1, 3)
    points[np.hypot(points[:, 0] - deepest[0], points[:, 1] - deepest[1]) < 40.0, 2] = 1.2
    mesh.vertices.foreach_set("co", points.ravel())
    mesh.update()
    for surface, asked in (("bare", True), ("bare", True), ("laid", False)):
        own.surface = surface
        run()
        assert any("lies over Low 1 of the plan before" in text for text in json.loads(own.record)["warnings"]) == asked


def test_only_attributes_and_objects_of_ours_are_added(plate: Scene) -> None:
    """Of the user's meshes every bit is as before; what is new is three attributes, and objects in our collection."""
    before = everything()
    run()
    after = everything()
    for name, bits in before["meshes"].items():
        assert {key: after["meshes"][name][key] for key in bits} == bits, name
        added = set(after["meshes"][name]) - set(bits)
        assert added == ({AREA, DEPTH, COLOUR} if name == plate.panel else set()), name
    assert set(after["collections"]) - set(before["collections"]) <= {"Fillwright"}
    ours = {obj.name for made in bpy.data.collections for obj in made.all_objects}
    assert {entry[0] for entry in after["objects"]} - ours == {entry[0] for entry in before["objects"]}
    assert set(before["objects"]) <= set(after["objects"])


def test_undo_and_redo(plate: Scene) -> None:
    bpy.ops.ed.undo_push(message="before")
    before = everything()
    run()
    planned = everything()
    assert planned != before
    for _ in range(2):
        assert bpy.ops.ed.undo() == {"FINISHED"}
        assert everything() == before
        assert bpy.ops.ed.redo() == {"FINISHED"}
        assert everything() == planned


def test_a_second_run_replaces_the_first(plate: Scene) -> None:
    run()
    first, depth = everything(), values(plate.panel_object, DEPTH)
    run()
    again = everything()
    assert [again[key] for key in ("collections", "areas")] == [first[key] for key in ("collections", "areas")]
    assert [entry[0] for entry in again["objects"]] == [entry[0] for entry in first["objects"]]
    assert len(again["meshes"]) == len(first["meshes"]), "a file must not grow"
    np.testing.assert_array_equal(values(plate.panel_object, DEPTH), depth)
    plate.panel_object.data.vertices[5000].co.z -= 2.0
    run()
    assert np.nanmax(values(plate.panel_object, DEPTH) - depth) > 1.9


def test_saved_and_loaded_again(plate: Scene, tmp_path: Path) -> None:
    run()
    before = everything()
    path = tmp_path / "Türe à réparer.blend"
    assert bpy.ops.wm.save_as_mainfile(filepath=str(path)) == {"FINISHED"}
    bpy.ops.wm.read_homefile(use_empty=True)
    assert everything() != before
    assert bpy.ops.wm.open_mainfile(filepath=str(path)) == {"FINISHED"}
    assert everything() == before
    assert bpy.context.scene.fillwright.panel.name == plate.panel


def test_no_compiled_library_in_blenders_own_process(sample: Scene) -> None:
    run()
    loaded = {name.partition(".")[0] for name in sys.modules} & {"scipy", "igl", "trimesh"}
    assert not loaded


def test_nothing_chosen_is_greyed(empty: bpy.types.Scene) -> None:
    assert not bpy.ops.fillwright.plan.poll()
