"""Steps that are done fold to a line with their outcome: one of two twins is there at any time, and says what came."""

from __future__ import annotations

import json
from typing import Any

import bpy
import pytest

from tests.addon.conftest import part
from tests.addon.scenes import Scene

STEPS = ("set_out", "finished_shape", "line_up")


def own() -> Any:
    return bpy.context.scene.fillwright


def panel(step: str, folded: bool) -> Any:
    return getattr(bpy.types, f"FILLWRIGHT_PT_{step}{'_folded' if folded else ''}")


def folded() -> dict[str, bool]:
    """By step, whether its closed twin is there; never both, never none."""
    found = {}
    for step in STEPS:
        there = [panel(step, twin).poll(bpy.context) for twin in (False, True)]
        assert there.count(True) == 1, step
        found[step] = there[1]
    return found


def test_the_next_step_stands_open(empty: bpy.types.Scene) -> None:
    assert folded() == {"set_out": False, "finished_shape": False, "line_up": True}
    assert bpy.ops.fillwright.load_sample() == {"FINISHED"}
    assert folded() == dict.fromkeys(STEPS, True)
    target = own().target
    own().target = None
    assert folded() == {"set_out": True, "finished_shape": False, "line_up": True}
    target.location.x = 900.0
    bpy.context.view_layer.update()
    own().target = target
    assert folded() == {"set_out": True, "finished_shape": True, "line_up": False}, "they lie apart"
    own().panel = None
    assert folded() == {"set_out": False, "finished_shape": True, "line_up": True}


def test_outcomes(plate: Scene) -> None:
    def said(step: str) -> tuple[str, str]:
        return panel(step, True).outcome(None, bpy.context)

    assert said("set_out")[0].startswith("200 × 200 × ")
    assert said("finished_shape") == ("Shape", "NONE")
    assert said("line_up") == ("as they lie", "NONE")
    own().panel_unit = "M"
    assert said("set_out")[1] == "ERROR"
    own().panel_unit = "MM"
    assert bpy.ops.fillwright.line_up() == {"FINISHED"}
    assert said("line_up")[0].startswith("within ")
    plate.panel_object.location.x += 1.0
    bpy.context.view_layer.update()
    assert said("line_up") == ("changed since", "ERROR")


def test_what_is_to_be_minded_is_not_folded_away(plate: Scene) -> None:
    """A shape made here stays open with its figures; folded by the first plan, its warnings leave their sign."""
    shape = plate.target_object
    own().shaping.way = "BUILD_OVER"
    own().target = shape
    assert not folded()["finished_shape"]
    ids = part("addon.names.ids")
    shape[ids.SHAPE] = json.dumps({"kind": "build_over", "warnings": ["3 cm² still stand proud"]})
    assert panel("finished_shape", True).outcome(None, bpy.context) == ("Shape", "ERROR")
    assert bpy.ops.fillwright.line_up() == {"FINISHED"}
    record = json.loads(own().shaping.line_up)
    own().shaping.line_up = json.dumps({**record, "warnings": ["held in 5 of 6 directions only"]})
    assert panel("line_up", True).outcome(None, bpy.context)[1] == "ERROR"


def test_the_first_plan_folds_what_led_to_it_and_later_ones_leave_it(plate: Scene) -> None:
    own().steps.set_out = own().steps.line_up = False
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}
    assert folded() == dict.fromkeys(STEPS, True)
    own().steps.set_out = False
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}
    assert not folded()["set_out"]


@pytest.mark.parametrize("name", ["work_area", "condition", "weigh_up", "set_aside"])
def test_what_is_inside_a_step_goes_with_it(name: str) -> None:
    """Each panel inside has a twin whose parent is the step's twin."""
    inner, twin = panel(name, False), panel(name, True)
    assert twin.bl_parent_id == f"{inner.bl_parent_id}_folded"
    assert hasattr(bpy.types, twin.bl_parent_id)
    assert twin.step == inner.step


def test_the_first_figures_are_those_of_all_amounts(plate: Scene) -> None:
    """What stands above the list is said again below with everything that belongs to it, in the same words."""
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT", True) == {"FINISHED"}
    shown = part("addon.sidebar.shown").shown(bpy.context.scene)
    every = {(line.name, line.value) for line in shown.results}
    names = [line.name for line in shown.first]
    assert names == ["Fill", "Overbuild", "To Lay", "To Buy"]
    assert {(line.name, line.value) for line in shown.first[1:]} <= every
    assert shown.first[0].value in {value for _, value in every}
