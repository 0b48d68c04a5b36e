"""Steps of the sidebar that fold to one line with their outcome when they are done.

Blender has no way to close a panel but the user's click. So each such panel has a twin that starts closed: the one is
there while its step is to be done, the other when that is done.
"""

from __future__ import annotations

from typing import Any

import bpy

from ..state.open_steps import is_done
from .pieces import Step
from .shown import shortened

_FOLDED = "_folded"


class InStep(Step):
    """A panel of the step named ``step``, or a panel inside one."""

    step = ""
    folded = False

    @classmethod
    def poll(cls: Any, context: bpy.types.Context) -> bool:
        return is_done(context.scene.fillwright, cls.step) == cls.folded and cls.there(context)

    @classmethod
    def there(cls, context: bpy.types.Context) -> bool:
        """Whether there is anything to show."""
        return True


class FoldingStep(InStep):
    """A step itself; `outcome` gives its words and an icon for the closed twin."""

    def draw_header_preset(self: Any, context: bpy.types.Context) -> None:
        if self.folded:
            words, icon = self.outcome(context)
            row = self.layout.row()
            row.active = icon != "NONE"
            row.label(text=shortened(words, len(self.bl_label)), icon=icon)


def with_twins(*classes: type) -> tuple[type, ...]:
    """The panels of one step, and their twins; parents before children, as they came."""
    return (*classes, *map(_twin, classes))


def _twin(cls: Any) -> type:
    own = {name: value for name, value in vars(cls).items() if name not in {"__dict__", "__weakref__"}}
    own |= {"folded": True}
    if "bl_parent_id" in own:
        own["bl_parent_id"] += _FOLDED
    else:
        own["bl_options"] = {"DEFAULT_CLOSED"}
    return type(cls.__name__ + _FOLDED, cls.__bases__, own)
