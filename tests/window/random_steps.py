"""Random steps in the window, one after the other, with the laws of tests/random_use held after each.

RANDOM_STEPS are so many, RANDOM_SEED is where they come from; both are told, so that a run can be had again.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from time import perf_counter
from typing import Any

import bpy

sys.path[:0] = [str(Path(__file__).resolve().parent), str(Path(__file__).resolve().parents[2])]
import hand  # noqa: E402
from stage import OUT, RESULT, run, seen, set_up  # noqa: E402

from tests.random_use.go import go, seeded  # noqa: E402
from tests.random_use.world import Steps, World  # noqa: E402

STEPS = int(os.environ.get("RANDOM_STEPS", "120"))
SEED = int(os.environ.get("RANDOM_SEED", "1"))
_ENOUGH = 0.1  # share of the steps after which a plan was valid: else nothing was tried


class WindowWorld(World):
    """The window with its mouse and keys; ``trouble`` reads what Blender writes into its log."""

    has_window = True
    _read = 0

    def here(self) -> AbstractContextManager[Any]:
        area, region, _ = hand.view()
        return bpy.context.temp_override(window=hand.window(), area=area, region=region)

    def key(self, kind: str, **held: bool) -> Steps:
        yield from hand.press(kind, *hand.middle(), **held)

    def click(self, right: float, up: float, button: str = "LEFTMOUSE") -> Steps:
        _, region, _ = hand.view()
        x, y = region.x + right * region.width, region.y + up * region.height
        yield from hand.move(x, y)
        yield from hand.press(button, x, y)

    def undo(self) -> Steps:
        self.said.append("Ctrl Z")
        yield from hand.move(*hand.middle())
        yield from self.key("Z", ctrl=True)

    def redo(self) -> Steps:
        self.said.append("Ctrl Shift Z")
        yield from hand.move(*hand.middle())
        yield from self.key("Z", ctrl=True, shift=True)

    def settled(self) -> Steps:
        yield 0.03

    def trouble(self) -> str:
        log = Path(os.environ["FILLWRIGHT_LOG"]).read_text(encoding="utf-8", errors="replace")
        new, self._read = log[self._read :], len(log)
        return new if "Traceback" in new else ""


def job() -> Iterator[float]:
    """Set up, and go."""
    yield from set_up()
    yield from hand.open_tab("Fillwright")
    RESULT["seed"], begun = SEED, perf_counter()
    folder = Path(OUT) / "random"
    folder.mkdir()
    world, told = WindowWorld(folder, seeded(SEED)), RESULT.setdefault("told", {})
    try:
        yield from go(world, STEPS, told)
    finally:
        RESULT["seconds"] = round(perf_counter() - begun, 1)
    seen(f"{STEPS} random steps broke no law", sum(told["steps"].values()) == STEPS)
    seen("a plan held after many of them", told["laws"]["valid plans looked at"] >= _ENOUGH * STEPS)


run(job())
