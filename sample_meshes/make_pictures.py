"""Make README's three pictures again: ``python make_pictures.py LIBRARIES``; ``make pictures`` calls it.

Two are pages that Picture makes. The third is Blender's window with the sidebar where a window can be had (BLENDER is
the command that starts it, as for ``make window-test``), else another page. All together stay under 400 KB.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from importlib import import_module
from pathlib import Path

from draw_map import ROOT, draw, fillwright, hushed

sys.path.insert(0, str(ROOT))
from tests.window import run  # noqa: E402

FOLDER = ROOT / "sample_meshes" / "pictures"
WORK = ROOT / "out" / "pictures"
WIDTH, HEIGHT = 1120, 792
WINDOW_WIDTH = 1200
MOST_BYTES = 400_000


def pages(views: set[str]) -> None:
    """Pages of Picture for these views of the plan that is open."""
    import bpy

    take = import_module("fillwright.addon.picture.taking").pictures
    for name, data in take(bpy.context, views, WIDTH, HEIGHT, "map", False).items():
        if name in ("map.png", "map-left.png", "map-low-1.png"):
            (FOLDER / name).write_bytes(data)


def window() -> bool:
    """Blender's window, made smaller; whether there is one."""
    os.unsetenv("OCIO")  # bpy sets it, unseen by Python, to its own colours, which the window's Blender may not have
    command = run.blender()
    if not command:
        return False
    run.OUT = WORK
    place, picture = run.build(run.python_line(command)), WORK / "window.png"
    server, display = run.screen(command)
    try:
        _photographed(command, display, [str(place), str(WORK / "map.blend"), str(picture)])
    finally:
        if server is not None:
            server.terminate()
            server.wait()
    if picture.exists():
        _made_smaller(picture)
    return picture.exists()


def _photographed(command: list[str], display: str, words: list[str]) -> None:
    given = {"DISPLAY": display, "BLENDER_USER_RESOURCES": str(WORK / "profile"), "LIBGL_ALWAYS_SOFTWARE": "1"}
    if (WORK / "Xvfb_screen0").exists():
        given["FILLWRIGHT_SCREEN"] = str(WORK / "Xvfb_screen0")
    start = ["--factory-startup", "--no-window-focus", "-p", "0", "0", "1600", "1000", "--enable-event-simulate"]
    script = ["--python", str(ROOT / "sample_meshes" / "window_picture.py"), "--", *words]
    with (WORK / "blender.log").open("wb") as log:
        words = [*command, *start, *script]
        subprocess.run(words, env=os.environ | given, stdout=log, stderr=log, cwd="/", timeout=180, check=False)


def _made_smaller(picture: Path) -> None:
    import bpy

    image = bpy.data.images.load(str(picture))
    image.scale(WINDOW_WIDTH, WINDOW_WIDTH * image.size[1] // image.size[0])
    settings = bpy.context.scene.render.image_settings
    settings.file_format, settings.quality = "JPEG", 80
    bpy.context.scene.view_settings.view_transform = "Standard"
    image.save_render(str(FOLDER / "window.jpg"))


def main(libraries: str) -> int:
    shutil.rmtree(FOLDER, ignore_errors=True)
    shutil.rmtree(WORK, ignore_errors=True)
    FOLDER.mkdir()
    (WORK / "profile").mkdir(parents=True)
    with hushed(), fillwright(libraries):
        draw(WORK)
        pages({"square", "left"})
        if not window():
            pages({"lows"})
    sizes = {path.name: path.stat().st_size for path in sorted(FOLDER.iterdir())}
    sys.stdout.write(f"{', '.join(f'{name} {size // 1000} KB' for name, size in sizes.items())} in {FOLDER}\n")
    return int(sum(sizes.values()) > MOST_BYTES)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
