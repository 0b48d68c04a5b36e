"""What people do beside the main job, in Blender's own window: run by ``run.py`` as ``drive.py`` is.

Old scan and paint, size from a tape, points that are clicked wrongly, inches, a scan in two objects with modifiers.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]
import hand  # noqa: E402
from look import where  # noqa: E402
from stage import OUT, PACKAGE, RESULT, manager, own, picture, run, seen, set_up  # noqa: E402
from using import Steps, chosen, ended, listen, look_at, new_file, press, pushed  # noqa: E402
from wrong_points import mirrored_points, one_wrong_point, points_on_a_line  # noqa: E402

from tests.addon.scenes import dented_plate  # noqa: E402
from tests.addon.shape_scenes import AT, DENT_MM, crown, crowned  # noqa: E402


def job() -> Steps:
    """One thing after the other, each in a new file."""
    yield from set_up()
    listen(RESULT.setdefault("said", []))
    for use in (as_it_was, set_size, points_on_a_line, mirrored_points, one_wrong_point, inches, two_objects,
                saved_while_planning, moved_while_weighing, copied_scene):
        yield from new_file()
        RESULT["now"] = use.__name__
        yield from use()


def as_it_was() -> Steps:
    """An old scan 0.3 mm proud of the metal by its paint gives the shape, and the plan the dent's own depth."""
    panel, old = crowned("Wing"), crowned("Before", 0.0)
    old.data.vertices.foreach_set("co", np.concatenate([v.co + 0.3 * v.normal for v in old.data.vertices]))
    chosen(panel)
    own().shaping.way, own().shaping.old, own().shaping.old_paint_mm = "AS_IT_WAS", old, 0.3
    pushed()
    yield from look_at([panel])
    yield from hand.press_button("fillwright.as_it_was")
    yield from ended("the paint is off")
    seen("the old scan without its paint is the finished shape", own().target is not None and own().target is not old)
    press(bpy.ops.fillwright.plan)
    yield from ended("it is planned")
    yield from picture("use-1-as-it-was")
    RESULT["as it was, lows in mm"] = depths = [area.depth_max_mm for area in own().areas if area.kind == "low"]
    slope = np.array([crown(AT[0] + 1, AT[1]) - crown(AT[0] - 1, AT[1]), crown(AT[0], AT[1] + 1) - crown(*AT)]) / (2, 1)
    square = DENT_MM / np.sqrt(1 + slope @ slope)  # the dent was pressed along Z; depth is square to the shape
    seen("the one low is as deep as the dent", len(depths) == 1 and abs(depths[0] - square) < 0.05)
    press(bpy.ops.fillwright.show_map, kind="as_was")
    yield from picture("use-2-old-filler")
    seen("the map of the old filler is shown", own().show_map and own().map_kind == "as_was")
    yield from hand.press("Z", *hand.middle(), ctrl=True)
    seen("undo takes that map off again", own().map_kind == "fill")


def set_size() -> Steps:
    """A scan that is half as large as the panel: two clicks, a tape of 200 mm, and it is twice as large."""
    panel = crowned("Wing")
    panel.data.transform(Matrix.Scale(0.5, 4))
    chosen(panel)
    pushed()
    yield from look_at([panel])
    ends = [min(panel.data.vertices, key=lambda v: (v.co.x - x) ** 2 + v.co.y**2).co for x in (-50, 50)]
    seen("Set Size asks for clicks", press(bpy.ops.fillwright.set_size) == {"RUNNING_MODAL"})
    for end in ends:
        yield from hand.click(*where([panel.matrix_world @ end])[0])
        yield 0.2
    yield from picture("use-3-set-size")
    yield from hand.press("RET", *where([panel.matrix_world @ ends[1]])[0])
    yield 0.3
    RESULT["set size, mm in a unit"] = own().panel_mm_per_unit
    seen("the dialog offers what lies between the clicks, to a pixel of each",
         own().panel_unit == "OWN" and abs(own().panel_mm_per_unit - 1) < 0.01)
    bpy.ops.fillwright.size_from_tape("EXEC_DEFAULT", True, first=ends[0], second=ends[1], taped_mm=200.0)
    seen("the size is as taped", abs(own().panel_mm_per_unit * (ends[1] - ends[0]).length / 200.0 - 1) < 1e-5)
    for _ in range(2):
        yield from hand.press("Z", *hand.middle(), ctrl=True)
    seen("undo gives the unit back", own().panel_unit == "MM")


def inches() -> Steps:
    """In a scene in feet and inches everything that is shown is in inches, square inches, ounces and pounds."""
    bpy.context.scene.unit_settings.system = "IMPERIAL"
    yield from hand.press_button("fillwright.load_sample")
    yield from hand.until("the sample is there", lambda: own().panel is not None)
    press(bpy.ops.fillwright.plan)
    yield from ended("it is planned")
    plan = sys.modules[f"{PACKAGE}.addon.sidebar.shown"].shown(bpy.context.scene)
    lines = (*plan.first, *plan.results, *plan.condition)
    words = [f"{line.name} {line.value} {line.more}" for line in lines]
    words += [*plan.heading, *(word for area in plan.areas for word in area), *plan.details]
    RESULT["metric words"] = [word for word in words if re.search(r"\d ?(mm|cm|cm²|cm³|g|kg|ml|l)\b", word)]
    RESULT["inch words"] = words[:6]
    seen("no figure in the sidebar is metric", not RESULT["metric words"])
    yield from picture("use-6-inches")


def two_objects() -> Steps:
    """A plate in two halves, one of them bent straight again by a modifier and one divided: planned as the whole."""
    plate = dented_plate(bpy.context.scene)
    pushed()
    press(bpy.ops.fillwright.plan)
    yield from ended("the whole is planned")
    whole = {area.name: area.volume_mm3 for area in own().areas}
    left = bpy.data.objects[plate.panel]
    right = bpy.data.objects.new("Right", left.data.copy())
    collection = bpy.data.collections.new("Halves")
    bpy.context.scene.collection.children.link(collection)
    for obj, side in ((left, 1), (right, -1)):
        collection.objects.link(obj)
        halve(obj, side)
    right.data.transform(Matrix.Translation((0, 0, -2)))
    right.modifiers.new("Up", "DISPLACE").strength = 2.0
    right.modifiers[0].direction, right.modifiers[0].mid_level = "Z", 0.0
    divided = left.modifiers.new("Divided", "SUBSURF")
    divided.subdivision_type, divided.levels = "SIMPLE", 1
    own().panel_collection = collection
    yield 0.5
    seen("another panel puts the plan out of date", own().out_of_date)
    press(bpy.ops.fillwright.plan)
    yield from ended("the halves are planned")
    yield from picture("use-7-two-objects")
    halves = {area.name: area.volume_mm3 for area in own().areas}
    RESULT["whole and halves, mm3"] = [whole, halves]
    seen("the plan holds", not own().out_of_date)
    seen("the halves have the whole plate's areas", halves.keys() == whole.keys())
    seen("and within 2 % its volumes", all(abs(halves[name] / whole[name] - 1) < 0.02 for name in whole))
    seen("what is divided has its map beside it, the other on itself",
         [entry.obj.name for entry in own().carriers] == ["Map Plate", "Right"])


def saved_while_planning() -> Steps:
    """A file that is saved while a plan is made, by hand or by Blender itself, opens with nothing running."""
    dented_plate(bpy.context.scene)
    pushed()
    press(bpy.ops.fillwright.plan)
    yield 0.1
    seen("a plan is being made", manager().fillwright_running)
    path = str(Path(OUT) / "while-planning.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    yield from ended("the plan is made")
    bpy.ops.wm.open_mainfile(filepath=path)
    yield 0.5
    seen("in the file that is opened nothing runs", not manager().fillwright_running)
    yield from hand.open_tab("Fillwright")
    yield from hand.press_button("fillwright.plan")
    yield from ended("a plan is made in it")
    seen("it can be planned", len(own().areas) == 2)


def moved_while_weighing() -> Steps:
    """What is moved while another job runs puts the plan out of date as soon as that job ends."""
    plate = dented_plate(bpy.context.scene)
    pushed()
    press(bpy.ops.fillwright.plan)
    yield from ended("it is planned")
    for stop in (False, True):
        press(bpy.ops.fillwright.add_to_weigh_up)
        seen("the plan holds", not own().out_of_date)
        press(bpy.ops.fillwright.weigh_up)
        bpy.data.objects[plate.panel].location.z += 0.5
        yield 0.3
        if stop:
            yield from hand.press("ESC", *hand.middle())
        yield from ended("the weighing up has ended")
        seen(f"what was moved meanwhile counts{', after Esc too' if stop else ''}", own().out_of_date)
        bpy.data.objects[plate.panel].location.z -= 0.5
        press(bpy.ops.fillwright.plan)
        yield from ended("it is planned again")


def copied_scene() -> Steps:
    """An empty scene with this one's settings has no panel, so the plan that came along holds no more."""
    dented_plate(bpy.context.scene)
    pushed()
    press(bpy.ops.fillwright.plan)
    yield from ended("it is planned")
    seen("the plan holds", not own().out_of_date and own().show_map)
    press(bpy.ops.scene.new, type="EMPTY")
    yield from hand.until("the copy's plan is out of date", lambda: own().out_of_date)
    hand.window().scene = bpy.data.scenes["Scene"]
    yield 0.5
    seen("the first scene's plan holds", not own().out_of_date)


def halve(obj: Any, side: int) -> None:
    """Leave one half of a plate."""
    import bmesh

    half = bmesh.new()
    half.from_mesh(obj.data)
    away = [face for face in half.faces if side * face.calc_center_median().x > 0]
    bmesh.ops.delete(half, geom=away, context="FACES")
    half.to_mesh(obj.data)
    half.free()


run(job())
