"""What every script that is run in the window shares: what was seen, pictures, the installed zip, and the end.

Words after ``--``: the zip, the folder for pictures, the name of the script. It leaves NAME.json in that folder and
ends Blender with status 0 or 1.
"""

from __future__ import annotations

import json
import os
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path
from time import perf_counter
from typing import Any

import bpy
import hand
from look import pixels, save

ZIP, OUT, NAME = sys.argv[sys.argv.index("--") + 1 :][:3]
RESULT: dict[str, Any] = {"blender": bpy.app.version_string, "python": sys.version.split()[0], "seen": []}
PACKAGE = "bl_ext.user_default.fillwright"
beats: list[float] = []  # when Blender's main loop was heard from


def own() -> Any:
    return bpy.context.scene.fillwright


def manager() -> Any:
    return bpy.context.window_manager


def seen(what: str, right: bool) -> None:
    """Note one thing that was looked at; the first that is wrong ends the run."""
    RESULT["seen"].append(what)
    if not right:
        raise hand.NotThereError(f"not so: {what}")


def picture(name: str) -> Iterator[float]:
    """Keep what is on the screen. The window stands still meanwhile, which must not be counted."""
    yield 0.5
    save(pixels(), Path(OUT) / f"{name}.png")
    yield 0.1


def set_up() -> Iterator[float]:
    """The extension installed from its zip; the factory's cube gone; the view to look at."""
    bpy.ops.extensions.package_install_files(filepath=ZIP, repo="user_default", enable_on_install=True)
    seen("the zip is installed and enabled", PACKAGE in bpy.context.preferences.addons)
    for obj in list(bpy.data.objects):
        bpy.data.objects.remove(obj)
    bpy.context.preferences.view.ui_scale = float(os.environ.get("WINDOW_TEST_SCALE", "1"))
    yield 1.0


def beat() -> float:
    """Heard from the window's main loop: what lies between two beats is how long the window stood still."""
    beats.append(perf_counter())
    return 0.002


def run(steps: Iterator[float]) -> None:
    """Have the window do the steps, one after the other, and end Blender."""
    bpy.app.timers.register(beat, persistent=True)
    bpy.app.timers.register(lambda: _tick(steps), first_interval=1.5, persistent=True)
    bpy.context.preferences.view.show_splash = False


def _tick(steps: Iterator[float]) -> float | None:
    try:
        return next(steps)
    except StopIteration:
        _end(0)
    except BaseException:
        RESULT["error"] = traceback.format_exc()
        _end(1)
    return None


def _end(status: int) -> None:
    (Path(OUT) / f"{NAME}.json").write_text(json.dumps(RESULT, indent=2), encoding="utf-8")
    os._exit(status)
