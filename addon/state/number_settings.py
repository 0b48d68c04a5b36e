"""The settings of a plan that are numbers, with core's defaults and limits; lengths in millimetres and in inches."""

from __future__ import annotations

from math import ceil, floor
from typing import Any

from bpy.props import FloatProperty

from ...core.settings import Settings, limits
from ..names.plain_settings import PLAIN, Plain
from ..scene.staleness import settings_changed
from .in_inches import twins


def _changed(self: Any, _context: Any) -> None:
    settings_changed(self)


def _number(name: str, plain: Plain) -> Any:
    least, most = limits(name)
    finest = 10.0 ** (plain.digits + 2)  # within the limits, and a number that can be typed
    return FloatProperty(
        name=plain.title, description=plain.words, precision=plain.digits, update=_changed,
        default=getattr(Settings(), name), min=ceil(least * finest) / finest, max=floor(most * finest) / finest,
    )


_NUMBERS = {name: _number(name, plain) for name, plain in PLAIN.items()} | {
    "paint_mm": FloatProperty(
        name="Paint (mm)", default=0.2, min=0.0, max=5.0, precision=2, update=_changed,
        description="Thickness of primer and paint on the finished shape, in millimetres",
    ),
    "tested_error_mm": FloatProperty(
        name="Roughness (mm)", default=0.1, min=0.0, max=10.0, precision=3, update=_changed,
        description="Your scanner's error at a point, as Test the Scanner found it, in millimetres",
    ),
    "tested_length_mm": FloatProperty(
        name="Agrees Over (mm)", default=0.0, min=0.0, max=200.0, precision=1, update=_changed,
        description="How far apart two points are before that error differs, in millimetres; 0 is from point to point",
    ),
}


class NumberSettings:
    """Mixed into what is kept on the scene."""

    __annotations__ = _NUMBERS | twins(_NUMBERS)
