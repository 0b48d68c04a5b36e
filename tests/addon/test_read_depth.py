"""Read Depth: the value under a ray is the attribute's, linear in its face; notes stay on the panel."""

from __future__ import annotations

import json
import re
from typing import Any

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part, refused
from tests.addon.scenes import Scene

DOWN = (0.0, 0.0, -1.0)


def run() -> None:
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}


def read(x: float, y: float, height: float = 500.0) -> Any:
    record = json.loads(bpy.context.scene.fillwright.record)
    return part("addon.map.read_depth").read_along(bpy.context, (x, y, height), DOWN, record)


def depths(obj: bpy.types.Object) -> np.ndarray:
    found = np.empty(len(obj.data.vertices), np.float32)
    obj.data.attributes["fillwright_depth_mm"].data.foreach_get("value", found)
    return found


def test_reading_is_linear_in_the_face(plate: Scene) -> None:
    run()
    mesh, depth = plate.panel_object.data, depths(plate.panel_object)
    rng = np.random.default_rng(2)
    for k in rng.integers(0, len(mesh.polygons), 40):
        corners = list(mesh.polygons[k].vertices)
        weights = rng.dirichlet([1.0, 1.0, 1.0])
        x, y, _ = weights @ np.array([mesh.vertices[c].co for c in corners])
        hit = read(x, y)
        # Barycentric weights drawn beforehand; seen from above the plate's faces do not overlap.
        assert hit.read.depth_mm == pytest.approx(float(weights @ depth[corners]), abs=2e-3)


def test_deepest_point_is_read_as_the_plan_has_it(plate: Scene) -> None:
    run()
    hit = read(10.0, 0.0)
    assert hit.read.depth_mm == pytest.approx(3.0, abs=0.1)  # the dent's depth, with noise of 0.02 mm
    assert hit.read.place == 1
    assert hit.read.heading.startswith("Low ")
    assert hit.read.rows[0] == "Low 1"
    assert re.fullmatch(r"4\.\d mm to lay, about 3 layers", hit.read.rows[1])
    assert read(80.0, -80.0).read.heading.startswith("True")
    assert read(500.0, 0.0) is None


def test_the_panels_nearest_side_counts_and_other_objects_do_not(plate: Scene) -> None:
    run()
    plate.target_object.hide_set(False)  # lies over the dent
    assert read(10.0, 0.0).read.depth_mm == pytest.approx(3.0, abs=0.1)


def test_reading_follows_a_moved_turned_and_scaled_panel(plate: Scene) -> None:
    run()
    wanted = read(10.0, 0.0).read.depth_mm
    obj = plate.panel_object
    obj.scale, obj.location = (-0.5, 2.0, 1.5), (7.0, 8.0, 9.0)
    bpy.context.view_layer.update()
    hit = read(7.0 - 5.0, 8.0)
    assert hit.read.depth_mm == pytest.approx(wanted, abs=2e-3)
    assert hit.place[0] == pytest.approx(2.0, abs=1e-4)


def test_not_judged_is_said(plate: Scene) -> None:
    bpy.context.scene.fillwright.reach_mm = 1.0
    run()
    assert np.isnan(depths(plate.panel_object)).any()
    hit = read(10.0, 0.0)
    assert hit.read.depth_mm is None
    assert hit.read.heading == "Not measured"


def note(x: float, y: float, words: str) -> None:
    hit = read(x, y)
    part("addon.map.chalk").chalk_note(
        bpy.context.scene, hit.holder, words, np.array(hit.place), np.array([1.0, 0, 0]), np.array([0, 1.0, 0])
    )


def test_notes_are_chalked_on_the_panel_and_stay(plate: Scene) -> None:
    run()
    note(10.0, 0.0, "Low 3 mm")
    obj = bpy.data.objects["Chalk Notes"]
    first = len(obj.data.vertices)
    points = np.array([tuple(obj.matrix_world @ v.co) for v in obj.data.vertices])
    assert not obj.hide_viewport
    assert np.linalg.norm(points[:, :2] - [10.0, 0.0], axis=1).min() < 1.0
    met = np.array([tuple(plate.panel_object.closest_point_on_mesh(p.tolist())[1]) for p in points])
    assert np.linalg.norm(points - met, axis=1).max() < 1.5
    assert (points[:, 0].max() - 10.0) > 20.0  # the words run to the reader's right
    note(-60.0, -60.0, "True")
    obj = bpy.data.objects["Chalk Notes"]
    assert len(obj.data.vertices) > first
    run()  # a new plan leaves notes alone
    assert len(bpy.data.objects["Chalk Notes"].data.vertices) > first


@pytest.mark.parametrize("wiped", [False, True])
def test_notes_move_with_the_panel_and_new_ones_join_them(plate: Scene, wiped: bool) -> None:
    """Also where they were wiped off when it was moved: of what is hidden Blender doesn't work out the place."""
    run()
    note(10.0, 0.0, "True")
    before = np.array([tuple(v.co) for v in bpy.data.objects["Chalk Notes"].data.vertices])
    if wiped:
        assert bpy.ops.fillwright.chalk_it() == {"FINISHED"}
        assert bpy.data.objects["Chalk Notes"].hide_viewport
    plate.panel_object.location = (100.0, 0.0, 0.0)
    bpy.context.view_layer.update()
    note(160.0, 0.0, "True")
    bpy.context.view_layer.update()
    obj = bpy.data.objects["Chalk Notes"]
    after = np.array([tuple(obj.matrix_world @ v.co) for v in obj.data.vertices])
    np.testing.assert_allclose(after[: len(before)], before + [100.0, 0.0, 0.0], atol=1e-3)


def test_it_says_where_it_works(plate: Scene) -> None:
    run()
    assert part("addon.map.read_depth").FILLWRIGHT_OT_read_depth.poll(bpy.context)
    assert refused(bpy.ops.fillwright.read_depth) == "Read Depth works in a 3D view; start it there"
