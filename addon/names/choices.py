"""What the lists of the sidebar offer."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import bpy

from ...core.bench.materials import Material, load
from ...core.errors import FillwrightError
from ...core.report.window_words import in_window
from .package import EXTENSION

UNITS = [
    ("SCENE", "Scene", "One Blender unit is what the scene's unit settings say"),
    ("MM", "mm", "One Blender unit is a millimetre"),
    ("CM", "cm", "One Blender unit is a centimetre"),
    ("M", "m", "One Blender unit is a metre"),
    ("INCH", "inch", "One Blender unit is an inch"),
]
MEASURED_UNITS = [*UNITS, ("OWN", "As Taped", "One Blender unit is what Set Size found with two points and a tape")]
PAINTED = [
    ("BARE", "Bare", "The finished shape was bare metal when it was scanned, as the panel is"),
    ("PAINTED", "Painted", "The finished shape carried primer and paint, which the filled panel will get"),
]
SURFACE = [
    ("bare", "Bare", "Stripped metal: what stands proud is tapped down or shrunk"),
    ("laid", "Laid", "Solder or filler lies on it: what stands proud is left to file"),
    ("primed", "Primed", "Under primer or surfacer: what stands proud is blocked down"),
]

_material_items: list[tuple[str, str, str]] = []  # Blender needs the texts kept alive


def preferences() -> Any:
    """The extension's preferences, or None where it isn't installed as one."""
    addon = bpy.context.preferences.addons.get(EXTENSION)
    return addon.preferences if addon else None


def materials_file() -> str:
    """The user's own material file, or nothing."""
    own = preferences()
    return bpy.path.abspath(own.materials_file) if own else ""


def materials(_self: Any, context: Any) -> list[tuple[str, str, str]]:
    """The materials, from the user's own file where it can be read."""
    unit = shop_unit(context.scene) if context is not None else "mm"
    items = tuple((m.name, m.title, f"{m.kind.capitalize()}, {in_window(f'{m.pass_mm:g} mm', unit)} a pass")
                  for m in _known().values())
    if tuple(_material_items) != items:
        _material_items[:] = items
    return _material_items


def material_figures(name: str) -> str:
    """A short text that changes with any figure of the material; empty where the user's file has it no longer."""
    found = _known().get(name)
    return f"{zlib.crc32(repr(found).encode()):08x}" if found else ""


def _known() -> Mapping[str, Material]:
    path = materials_file()
    try:
        return _loaded(path, Path(path).stat().st_mtime_ns if path else 0)
    except (FillwrightError, OSError):
        return _loaded("", 0)


@lru_cache(maxsize=4)
def _loaded(path: str, _changed: int) -> Mapping[str, Material]:
    return load(Path(path) if path else None)


def with_hatch() -> bool:
    """Whether the user wants a hatch over what is too deep."""
    own = preferences()
    return own is None or bool(own.hatch)


def shop_unit(scene: bpy.types.Scene) -> str:
    """The unit of everything shown and printed, "mm" or "inch", by the scene's unit system."""
    return "inch" if scene.unit_settings.system == "IMPERIAL" else "mm"
