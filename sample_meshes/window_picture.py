"""Blender's window with the sample's plan, for README: run by make_pictures.py through ``blender --python``.

Words after ``--``: the extension's zip, map.blend, the picture to write. Ends Blender with status 0 or 1.
"""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Iterator
from pathlib import Path

import bpy
from mathutils import Euler, Vector

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests" / "window"))
import hand  # noqa: E402
from look import pixels, save  # noqa: E402

ZIP, FILE, PICTURE = sys.argv[sys.argv.index("--") + 1 :][:3]
ASIDE = Vector((60.0, -60.0, 0.0))  # mm: the panel stands left of the sidebar and above the legend


def shown() -> Iterator[float]:
    """The extension put in, the file opened, the view large, its sidebar at Fillwright."""
    bpy.ops.extensions.package_install_files(filepath=ZIP, repo="user_default", enable_on_install=True)
    bpy.ops.wm.open_mainfile(filepath=FILE)
    yield 1.0
    area, region, _ = hand.view()
    with bpy.context.temp_override(window=hand.window(), area=area, region=region):
        bpy.ops.screen.screen_full_area()
    yield 0.5
    seen = hand.view()[0].spaces.active.region_3d
    seen.view_perspective = "PERSP"
    seen.view_rotation = Euler((0.55, 0.0, 0.25)).to_quaternion()
    seen.view_location, seen.view_distance = seen.view_location + ASIDE, 900.0
    yield from hand.open_tab("Fillwright")
    hand.window().cursor_warp(2, 2)
    yield 1.5
    save(pixels(), Path(PICTURE))


def tick(steps: Iterator[float]) -> float:
    try:
        return next(steps)
    except StopIteration:
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


_steps = shown()
bpy.app.timers.register(lambda: tick(_steps), first_interval=1.5, persistent=True)
bpy.context.preferences.view.show_splash = False
