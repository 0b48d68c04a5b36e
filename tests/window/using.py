"""What the uses in ``real_use.py`` have in common: a new file, the view, a press of a button, the end of a job."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from typing import Any

import bpy
import hand
from stage import PACKAGE, manager, own

Steps = Iterator[float]


def new_file() -> Steps:
    """An empty scene with the sidebar open at our tab."""
    bpy.ops.wm.read_homefile()
    yield 0.3
    for obj in list(bpy.data.objects):
        bpy.data.objects.remove(obj)
    yield from hand.open_tab("Fillwright")


def look_at(objects: list[Any]) -> Steps:
    """Have the objects fill the view, seen from above."""
    area, region, _ = hand.view()
    with bpy.context.temp_override(window=hand.window(), area=area, region=region):
        bpy.ops.view3d.view_axis(type="TOP")
        sys.modules[f"{PACKAGE}.addon.scene.framing"].frame_objects(bpy.context, objects)
    yield 0.8


def press(operator: Any, **words: Any) -> set[str]:
    """What a button does: for those that the main job has found in the sidebar already."""
    area, region, _ = hand.view()
    with bpy.context.temp_override(window=hand.window(), area=area, region=region):
        done: set[str] = operator("INVOKE_DEFAULT", True, **words)
    return done


def ended(what: str) -> Steps:
    yield 0.2
    yield from hand.until(what, lambda: not manager().fillwright_running, 120.0)
    yield 0.3


def listen(said: list[str]) -> None:
    """Have jobs' reports in ``said``, too: Blender shows them, and writes only some of them into its log."""
    kind = sys.modules[f"{PACKAGE}.addon.child.child_operator"].ChildOperator
    say = kind._say

    def say_and_keep(operator: Any, level: str, sentence: str) -> None:
        said.append(f"{level}: {sentence}")
        say(operator, level, sentence)

    kind._say = say_and_keep


def chosen(panel: Any, target: Any = None) -> None:
    own().panel, own().target = panel, target
    own().panel_unit = own().target_unit = "MM"
    bpy.context.view_layer.update()


def pushed() -> None:
    area, region, _ = hand.view()
    with bpy.context.temp_override(window=hand.window(), area=area, region=region):
        bpy.ops.ed.undo_push(message="begun")
