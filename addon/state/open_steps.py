"""Which steps of the sidebar are done."""

from __future__ import annotations

from typing import Any

import bpy
from bpy.props import BoolProperty

from ..scene.boxes import lie_together
from ..scene.chosen import PANEL, TARGET, source


class FillwrightSteps(bpy.types.PropertyGroup):
    """By step, whether it is done and folds to a line with its outcome."""

    set_out: BoolProperty(description="The panel is chosen")
    finished_shape: BoolProperty(description="The finished shape is chosen")
    line_up: BoolProperty(default=True, description="There is nothing to line up")


def is_done(own: Any, step: str) -> bool:
    """Whether a step is done."""
    return bool(getattr(own.steps, step))


def chosen_anew(own: Any) -> None:
    """Panel or shape were chosen: what is chosen is set out, and where the two lie together nothing is to line up.

    A shape that was made here stays open with what is to be known about it.
    """
    panel, target = (source(own, role) is not None for role in (PANEL, TARGET))
    own.steps.set_out, own.steps.finished_shape = panel, target and own.shaping.way == "HAVE_ONE"
    own.steps.line_up = not (panel and target) or lie_together(own)


def planned(own: Any) -> None:
    """The first plan is there: what led to it is done."""
    own.steps.set_out = own.steps.finished_shape = own.steps.line_up = True


GROUPS = (FillwrightSteps,)
