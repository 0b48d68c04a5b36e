"""The job as a user does it, in Blender's own window: run by ``run.py`` through ``blender --python``."""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import bpy
import numpy as np
from mathutils import Vector

sys.path.insert(0, str(Path(__file__).resolve().parent))
import hand  # noqa: E402
from look import colour_at, even_place, pixels, save, where  # noqa: E402
from looks import looks  # noqa: E402
from stage import OUT, PACKAGE, RESULT, beats, manager, own, picture, run, seen, set_up  # noqa: E402


def longest_gap(since: int, until: int | None = None) -> float:
    """The longest stand-still, in ms, between two counts of beats."""
    times = beats[since:until]
    return 1000 * max(b - a for a, b in zip(times, times[1:], strict=False))


def job() -> Iterator[float]:
    """One thing after the other."""
    yield from set_up()
    yield from hand.open_tab("Fillwright")
    yield from hand.press_button("fillwright.load_sample")
    yield from hand.until("the sample is there", lambda: own().panel is not None)
    seen("the sample's panel and shape are chosen", own().target is not None)
    yield 1.0
    seen("the panel fills what is free of the view", 0.4 < filled(own().panel) <= 1.0)
    yield from picture("1-sample")
    yield from stopped()
    yield from planned()
    yield from read_map()
    yield from read_depth()
    yield from pictured()
    yield from undone()
    yield from reopened()
    yield from looks(picture)


def filled(obj: Any) -> float:
    """What share of the view's free width or height the box around an object takes up, the larger one; more than 1
    where it reaches out of it."""
    corners = np.array([where(obj.matrix_world @ Vector(corner)) for corner in obj.bound_box])
    left, bottom, width, height = hand.free()
    reach = np.abs(corners - [left + width / 2, bottom + height / 2]) / [width / 2, height / 2]
    return float(reach.max())


def stopped() -> Iterator[float]:
    """Plan, watch progress, and Esc."""
    place = yield from hand.find_button("fillwright.plan")
    since = len(beats)
    for side in range(60):  # the window with nothing to do but redraw, once it has drawn it all before
        since = len(beats) if side == 20 else since
        yield from hand.move(hand.middle()[0] + 3 * side, hand.middle()[1])
        hand.view()[0].tag_redraw()
    RESULT["longest_gap_idle_ms"] = longest_gap(since)
    yield from hand.move(*place)
    since = len(beats)
    yield from hand.press("LEFTMOUSE", *place)
    yield from hand.until("a plan is being made", lambda: manager().fillwright_running)
    yield from hand.until("progress has moved", lambda: manager().fillwright_share > 0.1)
    RESULT["longest_gap_at_first_ms"] = longest_gap(since)
    seen("progress names a step", len(manager().fillwright_step) > 3)
    shown = pixels()
    yield from hand.press("ESC", *hand.middle())
    yield from hand.until("Esc has stopped it", lambda: not manager().fillwright_running)
    save(shown, Path(OUT) / "2-progress.png")
    seen("after Esc there is no result", not own().record and "fillwright_depth_mm" not in own().panel.data.attributes)


def planned() -> Iterator[float]:
    """The same again, to its end."""
    place = yield from hand.find_button("fillwright.plan")
    since, begun, shares, working = len(beats), perf_counter(), [], [0]

    def finished() -> bool:
        if manager().fillwright_running:
            working[0] = len(beats)
        shares.append(manager().fillwright_share)
        return bool(own().record) and not manager().fillwright_running

    yield from hand.press("LEFTMOUSE", *place)
    yield from hand.until("the plan is made", finished, 120.0)
    RESULT["plan_seconds"] = perf_counter() - begun
    yield 0.5
    RESULT["longest_gap_working_ms"] = longest_gap(since, working[0])
    RESULT["answer_put_in_ms"] = longest_gap(working[0] - 1)  # and drawn for the first time
    if RESULT["longest_gap_idle_ms"] < 75:
        seen("the window never stood still for 150 ms while the work ran", RESULT["longest_gap_working_ms"] < 150)
    else:
        RESULT["busy"] = "this machine stands still by itself, so the window's longest gap says nothing"
    RESULT["steps_of_progress"] = len(set(shares))
    # Looked at between redraws: of the five steps of a plan that takes a second and a half some are over too soon.
    seen("progress was shown in several steps", len(set(shares)) >= 3)
    seen("three lows and a high are listed", [a.kind for a in own().areas] == ["low", "low", "low", "high"])
    yield from picture("3-planned")


def read_map() -> Iterator[float]:
    """The map on the panel has the legend's colour where its depth is known."""
    if not own().show_map:
        yield from hand.press_button("fillwright.fill_map")
        yield from hand.until("the map is shown", lambda: own().show_map)
    yield from hand.press("A", *hand.middle(), alt=True)  # nothing selected: no outline over the rim
    yield from picture("4-map")
    panel, record = own().panel, json.loads(own().record)
    RESULT["map"] = []
    for number, area in enumerate(own().areas, start=1):
        yield from chosen(number - 1)
        place, depth, wanted = even_place(panel, number, record, PACKAGE)
        got = colour_at(pixels(), place)
        RESULT["map"].append({"area": area.name, "depth_mm": depth, "wanted": wanted, "got": got})
        # Blender keeps colours as scene-linear floats and shows 8 bits: one step each way, twice rounded.
        seen(f"{area.name} has its colour on the map", max(abs(a - b) for a, b in zip(wanted, got, strict=True)) <= 3)


def chosen(place: int) -> Iterator[float]:
    """Choose an area of the list: the view flies there."""
    with bpy.context.temp_override(window=hand.window()):  # a timer has no window of its own
        own().active_area = place
    point = own().panel.matrix_world @ Vector(own().areas[place].deepest_point_mm)
    yield from hand.until(
        "the view has flown to the area chosen, in what is free of it",
        lambda: float(np.linalg.norm(where(point) - hand.free_middle())) < 25.0,
    )
    yield 0.6


def read_depth() -> Iterator[float]:
    """The reading under the mouse at a place whose depth is known."""
    yield from hand.press_button("fillwright.read_depth")
    yield from chosen(0)
    place, depth, _ = even_place(own().panel, 1, json.loads(own().record), PACKAGE)
    yield from hand.move(place[0] - 40, place[1])
    yield from hand.move(*place)
    yield from picture("5-read-depth")
    hits = [operator for operator in read_operators() if operator._hit is not None]
    seen("a depth is read under the mouse", bool(hits))
    RESULT["read"] = {"known_mm": depth, "read_mm": float(hits[0]._hit.read.depth_mm)}
    # The mouse stands on whole pixels, up to 0.7 from the vertex, where depth changes by up to 0.1 mm a pixel.
    seen("it is the depth that is known there", abs(RESULT["read"]["read_mm"] - depth) < 0.1)
    yield from hand.press("ESC", *place)
    yield 0.2


def read_operators() -> list[Any]:
    """Read Depth where it runs, found among Python's objects: Blender itself tells only names."""
    return [found for found in gc.get_objects() if type(found).__name__ == "FILLWRIGHT_OT_read_depth"]


def pictured() -> Iterator[float]:
    """Pictures: Esc between two of them leaves no file and nothing in the file; then to the end."""
    folder = Path(OUT) / "pictures"
    had = {kind: len(getattr(bpy.data, kind)) for kind in ("scenes", "objects", "meshes", "images")}
    with bpy.context.temp_override(window=hand.window(), area=hand.view()[0], region=hand.view()[1]):
        bpy.ops.fillwright.picture("INVOKE_DEFAULT", begin=True, folder=str(folder), lows=True)
    yield from hand.until("pictures are being taken", lambda: manager().fillwright_share > 0.1, 60.0)
    yield from hand.press("ESC", *hand.middle())
    yield from hand.until("Esc has stopped them", lambda: not manager().fillwright_running)
    left = {kind: len(getattr(bpy.data, kind)) for kind in had}
    seen("after Esc there is no picture and nothing of the studio", left == had and not folder.exists())
    since = len(beats)
    begun = perf_counter()
    with bpy.context.temp_override(window=hand.window(), area=hand.view()[0], region=hand.view()[1]):
        bpy.ops.fillwright.picture("INVOKE_DEFAULT", begin=True, folder=str(folder), present=True)
    yield from hand.until("pictures are saved", lambda: folder.exists() and not manager().fillwright_running, 60.0)
    RESULT["picture_seconds"] = (perf_counter() - begun) / 2
    RESULT["picture_gap_ms"] = longest_gap(since)
    seen("two views are saved", len(list(folder.glob("*.png"))) == 2)


def undone() -> Iterator[float]:
    """Ctrl-Z takes the plan away, Ctrl-Shift-Z brings it back."""
    for _ in range(6):
        yield from hand.press("Z", *hand.middle(), ctrl=True)
        yield 0.3
        if not own().areas:
            break
    seen("Ctrl Z takes the plan back", not own().areas and own().panel is not None)
    yield from picture("6-undone")
    for _ in range(6):
        yield from hand.press("Z", *hand.middle(), ctrl=True, shift=True)
        yield 0.3
    seen("Ctrl Shift Z brings it again", len(own().areas) == 4)


def reopened() -> Iterator[float]:
    """Saved and opened again the results and the map are there."""
    before = [(area.name, area.volume_mm3) for area in own().areas]
    path = str(Path(OUT) / "window.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile()
    yield 0.5
    bpy.ops.wm.open_mainfile(filepath=path)
    yield 1.0
    seen("the opened file has the same results", [(a.name, a.volume_mm3) for a in own().areas] == before)
    yield from picture("7-reopened")


run(job())
