"""Matching points that are clicked wrongly: refused or warned of in one sentence; the panel stays or goes back."""

from __future__ import annotations

from typing import Any

import bpy
import hand
import numpy as np
from look import where
from mathutils import Matrix
from stage import RESULT, own, picture, seen
from using import Steps, chosen, ended, look_at, press, pushed

from tests.addon.shape_scenes import crowned

_LINE = ((0, -30), (0, 0), (0, 30))
_CORNERS = ((-120, -100), (120, -100), (120, 100))


def wrong_pairs(panel_at: Any, target_at: Any) -> Steps:
    """Click pairs side by side, press Enter, and see that the panel stays where it was and a sentence says why."""
    panel, target = crowned("Wing"), crowned("Shape", 0.0, 0.0)
    panel.matrix_world = Matrix.Translation((700, -300, 120)) @ Matrix.Rotation(0.6, 4, (1, 2, 3))
    chosen(panel, target)
    pushed()
    yield from look_at([panel, target])
    stood = np.array(panel.matrix_world)
    seen("Click Matching Points asks for clicks", press(bpy.ops.fillwright.click_matching_points) == {"RUNNING_MODAL"})
    yield 0.5
    for one, other in zip(panel_at, target_at, strict=True):
        for obj, (x, y) in ((bpy.data.objects["Wing"], one), (bpy.data.objects["Shape"], other)):
            near = min(obj.data.vertices, key=lambda v: (v.co.x - x) ** 2 + (v.co.y - y) ** 2).co
            yield from hand.click(*where([obj.matrix_world @ near])[0])
            yield 0.1
    count = len(own().shaping.pairs)
    seen(f"{len(panel_at)} pairs are clicked", count == len(panel_at) and own().shaping.pairs[-1].target is not None)
    yield from picture(f"use-4-{RESULT['now']}")
    said: list[str] = RESULT["said"]
    said.clear()
    yield from hand.press("RET", *hand.middle())
    yield from ended("the line-up has ended")
    RESULT[f"{RESULT['now']}, said"] = [*said]
    RESULT["moved"] = not np.array_equal(np.array(bpy.data.objects["Wing"].matrix_world), stood)
    yield from picture(f"use-5-{RESULT['now']}")
    return [*said]


def points_on_a_line() -> Steps:
    """Three points on one line leave a turn open."""
    said = yield from wrong_pairs(_LINE, _LINE)
    seen("points on one line are refused in one sentence",
         len(said) == 1 and said[0].startswith("ERROR: ") and "one line" in said[0])
    seen("the panel was not moved", not RESULT["moved"])


def mirrored_points() -> Steps:
    """Left clicked for right: no turn of the panel does that."""
    corners = (*_CORNERS, (-120, 100))
    said = yield from wrong_pairs(corners, [(-x, y) for x, y in corners])
    seen("mirrored points are warned of in one sentence", warned(said, "off the finished shape"))
    yield from undone("Wing")


def one_wrong_point() -> Steps:
    """Of four pairs one was clicked 80 mm off."""
    corners = (*_CORNERS, (-120, 100))
    said = yield from wrong_pairs(corners, (*_CORNERS, (-60, 50)))
    seen("the pair is named in one sentence", warned(said, "pair 4 lies 58 mm off"))
    yield from undone("Wing")


def warned(said: list[str], words: str) -> bool:
    """Whether the last sentence, which is the one that stays on the screen, warns with these words."""
    return said[-1].startswith("WARNING: ") and words in said[-1]


def undone(name: str) -> Steps:
    """One undo puts the panel back where it stood."""
    yield from hand.press("Z", *hand.middle(), ctrl=True)
    yield 0.3
    seen("undo puts the panel back", abs(bpy.data.objects[name].location.x - 700) < 1e-3)
