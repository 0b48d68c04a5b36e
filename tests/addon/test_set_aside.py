"""What is set aside takes no part in a line-up and in the search for the symmetry plane."""

from __future__ import annotations

import json
from pathlib import Path

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part, refused
from tests.addon.plain_shapes import damage, plain_shape
from tests.addon.scenes import everything
from tests.addon.shape_scenes import crowned, own, set_out

OPS = bpy.ops.fillwright
GROUP = "Set Aside"


@pytest.fixture
def panel(empty: bpy.types.Scene) -> bpy.types.Object:
    """The panel with a wide moulding that its shape has not: so low that it might be taken for metal."""
    obj, target = crowned("Wing"), crowned("Shape", 0.0, 0.0)
    for vertex in obj.data.vertices:
        if moulded(vertex.co.x):
            vertex.co.z += 0.12
    obj.location = (8.0, -3.0, 5.0)
    bpy.context.view_layer.update()
    set_out(obj, target)
    return obj


def moulded(x: float) -> bool:
    return -130 < x < -40


def select(obj: bpy.types.Object) -> int:
    """Select the moulding; how many vertices it has."""
    chosen = np.array([moulded(v.co.x) for v in obj.data.vertices])
    obj.data.vertices.foreach_set("select", chosen)
    return int(chosen.sum())


def test_line_up_as_the_plain_function_does(panel: bpy.types.Object, tmp_path: Path) -> None:
    count = select(panel)
    assert OPS.work_area_from_selection(group="SET_ASIDE") == {"FINISHED"}
    assert damage(panel, GROUP).sum() == count
    assert not own().use_work_area
    roles = {"panel": panel, "target": own().target}
    wanted, _ = plain_shape("line_up", tmp_path, roles, "panel", group=GROUP, landmarks=None)
    without, _ = plain_shape("line_up", tmp_path, roles, landmarks=None)
    assert OPS.line_up() == {"FINISHED"}
    record = json.loads(own().shaping.line_up)
    np.testing.assert_array_equal(record["matrix"], wanted["matrix"])
    # Closed form: the panel was only shifted, by what its location says; without the mark the moulding pulls it off.
    off = [np.abs(np.array(m["matrix"])[2, 3] + 5.0) for m in (record, without)]
    assert off[0] < 0.01
    assert off[1] > 3 * off[0]


def test_the_good_side_of_a_body(panel: bpy.types.Object, tmp_path: Path) -> None:
    """Marked on the body where one is chosen, else on the panel."""
    body = crowned("Body")
    own().shaping.body = body
    select(body)
    assert OPS.work_area_from_selection(group="BODY_ASIDE") == {"FINISHED"}
    assert GROUP in body.vertex_groups
    assert GROUP not in panel.vertex_groups
    wanted, _ = plain_shape("good_side", tmp_path, {"body": body}, "body", group=GROUP)
    without, _ = plain_shape("good_side", tmp_path, {"body": body})
    assert OPS.from_the_good_side() == {"FINISHED"}
    assert json.loads(own().target["fillwright_shape"])["off_mm_95"] == wanted["off_mm_95"] != without["off_mm_95"]
    own().shaping.body = None
    select(panel)
    assert OPS.work_area_from_selection(group="BODY_ASIDE") == {"FINISHED"}
    assert GROUP in panel.vertex_groups


def test_lasso_and_paint_mark_it_too(panel: bpy.types.Object) -> None:
    lasso = part("addon.marks.lasso")
    view = np.diag([1 / 200.0, 1 / 200.0, 1 / 1000.0, 1.0])  # from above, 400 units across
    around = np.array([[-0.65, -1.0], [-0.2, -1.0], [-0.2, 1.0], [-0.65, 1.0]])
    said = lasso.mark(bpy.context, view, around, "REPLACE", "SET_ASIDE")
    assert said.startswith("The part to set aside is ")
    assert damage(panel, GROUP).sum() > 1000
    assert not own().use_work_area
    bpy.context.view_layer.objects.active = panel
    assert OPS.work_area_paint(group="SET_ASIDE") == {"FINISHED"}
    assert bpy.context.mode == "PAINT_WEIGHT"
    assert panel.vertex_groups.active.name == GROUP
    bpy.ops.object.mode_set(mode="OBJECT")


def test_it_does_not_touch_the_damage(panel: bpy.types.Object) -> None:
    select(panel)
    OPS.work_area_from_selection(group="SET_ASIDE")
    assert "no damage is marked yet" in refused(OPS.carry_through)


def test_all_set_aside_is_told(panel: bpy.types.Object) -> None:
    panel.data.vertices.foreach_set("select", np.ones(len(panel.data.vertices), dtype=bool))
    OPS.work_area_from_selection(group="SET_ASIDE")
    before = everything()
    for operator in (OPS.line_up, OPS.from_the_good_side):
        assert "set aside" in refused(operator)
    assert everything() == before
