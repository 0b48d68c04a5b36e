"""What the random steps need of the Blender that they run in: a window with mouse and keys, or none."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import bpy
import numpy as np

Steps = Iterator[float]  # a generator that gives the seconds to wait
SLOWEST_S = 90.0  # a job on the small plate that takes longer runs for ever


class WrongError(Exception):
    """Something is not as a law says."""


@dataclass
class World:
    """Blender in the background. ``said``: what operators answered, the last one last."""

    folder: Path
    rng: np.random.Generator
    has_window = False
    said: list[str] = field(default_factory=list)
    pending: dict[str, Any] = field(default_factory=dict)  # what was so when the plan that runs was begun

    def here(self) -> AbstractContextManager[Any]:
        """What operators take for the place that the user is at."""
        return nullcontext()

    def key(self, _kind: str, **_held: bool) -> Steps:
        """A key over the view."""
        yield from ()

    def click(self, _right: float, _up: float, _button: str = "LEFTMOUSE") -> Steps:
        """A click at a share of the view's width and height."""
        yield from ()

    def undo(self) -> Steps:
        self.call(bpy.ops.ed.undo)
        yield from ()

    def redo(self) -> Steps:
        self.call(bpy.ops.ed.redo)
        yield from ()

    def settled(self) -> Steps:
        """What Blender's main loop does after each thing that a user does, and what is done where a view is drawn."""
        bpy.context.view_layer.update()
        sys.modules["bl_ext.user_default.fillwright.addon.map.scene_shown"].look()
        yield from ()

    def trouble(self) -> str:
        """What was written since that nobody should see."""
        return ""

    def call(self, operator: Any, how: str = "EXEC_DEFAULT", **words: Any) -> set[str]:
        """Run an operator as a click does, with an undo step of its own; nothing where it refuses in a sentence."""
        name = operator.idname_py()
        try:
            with self.here():
                done: set[str] = operator(how, True, **words)
        except RuntimeError as error:
            if "Traceback" in str(error):
                raise WrongError(f"{name} broke off: {error}") from None
            self.said.append(f"{name}: {str(error).strip()}")
            return set()
        self.said.append(f"{name}: {', '.join(sorted(done))}")
        return done

    def pushed(self, what: str) -> None:
        """An undo step, as Blender makes one after a property was changed in its interface."""
        with self.here():
            bpy.ops.ed.undo_push(message=what)
        self.said.append(what)

    def one(self, things: Any) -> Any:
        """One of them, or None where there is none."""
        found = list(things)
        return found[int(self.rng.integers(len(found)))] if found else None

    def likely(self, share: float) -> bool:
        return bool(self.rng.random() < share)


def own() -> Any:
    return bpy.context.scene.fillwright


def running() -> bool:
    return bool(bpy.context.window_manager.fillwright_running)


def record_of(scene: Any) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(scene.fillwright.record)
    return found


def is_ours(obj: Any) -> bool:
    """Whether Fillwright made it."""
    return bool(obj.get("fillwright_result"))


def users_objects() -> list[Any]:
    """The user's own meshes in the scene that is shown."""
    return [obj for obj in bpy.context.scene.objects if obj.type == "MESH" and not is_ours(obj)]
