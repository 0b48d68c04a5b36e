"""Make README's three pictures again: ``python make_pictures.py LIBRARIES``; ``make pictures`` calls it.

Two are pages that Picture makes. The third is Blender's window with the sidebar, from the window test where a window
can be had, else another page. All together stay under 400 KB.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from importlib import import_module
from pathlib import Path

from draw_map import ROOT, draw, fillwright, hushed

FOLDER = ROOT / "sample_meshes" / "pictures"
WINDOW = ROOT / "out" / "window" / "4-map.png"
WIDTH, HEIGHT = 1400, 990
MOST_BYTES = 400_000


def pages() -> None:
    """The map square on, from the left, and one low."""
    import bpy

    take = import_module("fillwright.addon.picture").pictures
    with tempfile.TemporaryDirectory() as folder:
        draw(Path(folder))
    FOLDER.mkdir(exist_ok=True)
    for name, data in take(bpy.context, {"square", "left"}, WIDTH, HEIGHT, "map", False).items():
        (FOLDER / name).write_bytes(data)


def window() -> bool:
    """The window as the window test left it, smaller; whether there was one."""
    import bpy

    subprocess.run([sys.executable, "-m", "tests.window.run"], cwd=ROOT, check=False)
    if not WINDOW.is_file():
        return False
    image = bpy.data.images.load(str(WINDOW))
    image.scale(1280, 1280 * image.size[1] // image.size[0])
    settings = bpy.context.scene.render.image_settings
    settings.file_format, settings.quality = "JPEG", 88
    bpy.context.scene.view_settings.view_transform = "Standard"
    image.save_render(str(FOLDER / "window.jpg"))
    return True


def low() -> None:
    """In place of the window: the first low, close."""
    import bpy

    take = import_module("fillwright.addon.picture").pictures
    files = take(bpy.context, {"lows"}, WIDTH, HEIGHT, "map", False)
    (FOLDER / "map-low-1.png").write_bytes(files["map-low-1.png"])


def main(libraries: str) -> int:
    with hushed(), fillwright(libraries):
        pages()
        if not window():
            low()
    sizes = {path.name: path.stat().st_size for path in sorted(FOLDER.iterdir())}
    sys.stdout.write(f"{', '.join(f'{name} {size // 1000} KB' for name, size in sizes.items())} in {FOLDER}\n")
    return int(sum(sizes.values()) > MOST_BYTES)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
