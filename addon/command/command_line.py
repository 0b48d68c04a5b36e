"""``blender --command fillwright plan PANEL TARGET ...``: as ``python -m core plan``, with map.blend and pictures."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import bpy

from ...core.errors import FillwrightError
from ...core.files.atomic_write import atomic_write
from ...core.jobs.folder import take
from ...core.jobs.part import Answer
from ..child.running import Child, libraries
from ..names.package import ROOT
from ..picture.picture import HEIGHT, WIDTH
from ..picture.taking import pictures
from . import map_file

NAME = "fillwright"
VIEWS = {"square", "left", "right", "lows"}
MAP_FILE, PICTURE = "map.blend", "map"
WRONG = 2

_registered: list[Any] = []


def command(words: list[str]) -> int:
    """Run the command; the exit status as ``python -m core`` has it. It replaces the file that is open."""
    child = Child()
    try:
        done = _run_core(child.folder, words)
        wanted = child.folder / "wanted.json"
        if done.returncode != 0 or not wanted.is_file():
            sys.stdout.write(done.stdout)
            return done.returncode
        asked = take(child.folder, "wanted", Answer).record
        written = atomic_write(Path(asked["out"]), {**_results(child.folder), **_drawn(child)})
        if not asked["quiet"]:
            more = ", ".join(path.name for path in written if path.suffix in (".blend", ".png"))
            sys.stdout.write(f"{done.stdout.rstrip()}\nand {more} beside them\n")
    except FillwrightError as error:
        sys.stderr.write(f"fillwright: {error}\n")
        return WRONG
    finally:
        child.clear()
        sys.stdout.flush()
    return 0


def _run_core(folder: Path, words: list[str]) -> subprocess.CompletedProcess[str]:
    """The command line in a process of its own, in the user's folder; its progress goes straight to the user."""
    script = ROOT / "core" / "child" / "command.py"
    places = [str(folder), str(ROOT), *libraries()]
    return subprocess.run(
        [sys.executable, *bpy.app.python_args, str(script), *places, "--", *words],
        stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, encoding="utf-8", check=False,
    )


def _results(folder: Path) -> dict[str, bytes | str]:
    return {path.name: path.read_bytes() for path in sorted((folder / "results").iterdir())}


def _drawn(child: Child) -> dict[str, bytes | str]:
    """The Blender file and the pictures, made from what ``child`` left."""
    map_file.build(bpy.context, child)
    path = child.folder / MAP_FILE
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True, compress=True)
    made: dict[str, bytes | str] = {MAP_FILE: path.read_bytes()}
    made.update(pictures(bpy.context, VIEWS, WIDTH, HEIGHT, PICTURE, photo=False))
    return made


def register() -> None:
    """Blender as a Python module has no command line; 4.5's also crashes when it ends with a command registered."""
    if not getattr(bpy.app, "module", False):  # Blender 4.3 has no such name, and no such trouble
        _registered.append(bpy.utils.register_cli_command(NAME, command))


def unregister() -> None:
    while _registered:
        bpy.utils.unregister_cli_command(_registered.pop())
