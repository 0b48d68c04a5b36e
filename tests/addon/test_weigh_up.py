"""Weigh Up in Blender: totals are those of a plan for each shape; changes are weighed again, roughly and quickly."""

from __future__ import annotations

import json

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part, refused
from tests.addon.shape_scenes import crowned, own, set_out

OPS = bpy.ops.fillwright


@pytest.fixture
def shapes(empty: bpy.types.Scene) -> list[bpy.types.Object]:
    """A panel, and three shapes in the list: as it should be, 1 mm higher, and with a ridge left."""
    panel = crowned("Wing")
    found = [crowned("Right", 0.0, 0.0), crowned("Higher", 0.0, 0.0), crowned("Half", 1.5, 0.0)]
    found[1].location.z = 1.0
    bpy.context.view_layer.update()
    set_out(panel, found[0])
    for obj in found:
        obj.select_set(True)
    assert OPS.add_to_weigh_up() == {"FINISHED"}
    assert OPS.add_to_weigh_up() == {"FINISHED"}  # each only once
    assert len(own().shaping.weighed) == 3
    return found


def test_totals_are_those_of_the_plan(shapes: list[bpy.types.Object]) -> None:
    assert OPS.weigh_up() == {"FINISHED"}
    for entry in own().shaping.weighed:
        own().target = entry.shape
        OPS.plan()
        record = json.loads(own().record)
        assert entry.done
        assert not entry.rough
        assert entry.fill_mm3 == pytest.approx(record["fill_volume_mm3"], rel=1e-6)
        assert entry.laid_mass_g == pytest.approx(record["material"]["laid_mass_g"], rel=1e-6)
        assert entry.packs == record["material"]["packs"]
    fills = {entry.shape.name: entry.fill_mm3 for entry in own().shaping.weighed}
    assert fills["Half"] < fills["Right"] < fills["Higher"]


def test_the_work_area_is_weighed_and_nothing_else(shapes: list[bpy.types.Object]) -> None:
    panel = own().panel
    across = np.array([vertex.co.x for vertex in panel.data.vertices])
    left = np.flatnonzero(across < np.median(across)).tolist()
    panel.vertex_groups.new(name="Work Area").add(left, 1.0, "REPLACE")
    OPS.weigh_up()
    whole = [entry.fill_mm3 for entry in own().shaping.weighed]
    own().use_work_area = True
    OPS.weigh_up()
    for entry, before in zip(own().shaping.weighed, whole, strict=True):
        own().target = entry.shape
        OPS.plan()
        assert entry.fill_mm3 == pytest.approx(json.loads(own().record)["fill_volume_mm3"], rel=1e-6)
        assert entry.fill_mm3 < 0.95 * before or before == 0


def test_a_change_is_weighed_again_roughly(shapes: list[bpy.types.Object]) -> None:
    OPS.weigh_up()
    live = part("addon.weigh_up.live")
    before = {entry.shape.name: entry.fill_mm3 for entry in own().shaping.weighed}
    shapes[0].location.z += 0.5
    bpy.context.view_layer.update()
    assert live._waiting == {shapes[0].session_uid}
    live.start(bpy.context)
    live.finish(live._asked[0].child.wait())
    entries = {entry.shape.name: entry for entry in own().shaping.weighed}
    assert [name for name, entry in entries.items() if entry.rough] == ["Right"]
    assert before["Right"] < entries["Right"].fill_mm3 < before["Higher"]
    assert entries["Higher"].fill_mm3 == before["Higher"]
    OPS.weigh_up()
    assert not any(entry.rough for entry in own().shaping.weighed)


def test_misuse_is_told_in_one_sentence(shapes: list[bpy.types.Object]) -> None:
    own().shaping.weighed.add().shape = own().panel
    assert "the panel itself" in refused(OPS.weigh_up)
    for _ in range(4):
        assert OPS.take_from_weigh_up() == {"FINISHED"}
    assert not OPS.take_from_weigh_up.poll()
    assert not OPS.weigh_up.poll()
    bpy.ops.object.select_all(action="DESELECT")
    own().target = None
    assert "select the meshes" in refused(OPS.add_to_weigh_up)


def test_a_shape_that_was_deleted_is_left_out(shapes: list[bpy.types.Object]) -> None:
    bpy.data.objects.remove(shapes[1])
    assert OPS.weigh_up() == {"FINISHED"}
    assert [entry.done for entry in own().shaping.weighed] == [True, False, True]
