"""Settings in millimetres, once more in inches for scenes that are in inches: another face of the same number."""

from __future__ import annotations

from typing import Any

from bpy.props import FloatProperty

from ...core.legend.legend import INCH_MM

_DIGITS = 2  # an inch wants so many more after the point than a millimetre


def twin(name: str) -> str:
    """What the setting ``name``, in mm, is called in inches."""
    return f"{name.removesuffix('_mm')}_in"


def twins(settings: dict[str, Any]) -> dict[str, Any]:
    """For each of a group's ``settings``, Blender's properties by name, that is a length in mm, its twin in inches."""
    return {twin(name): _in_inches(name, made.keywords) for name, made in settings.items()
            if name.endswith("_mm") and made.keywords.get("description")}


def _in_inches(name: str, words: dict[str, Any]) -> Any:
    def get(self: Any) -> float:
        return float(getattr(self, name)) / INCH_MM

    def put(self: Any, inches: float) -> None:
        setattr(self, name, inches * INCH_MM)

    limits = {side: words[side] / INCH_MM for side in ("min", "max") if side in words}
    return FloatProperty(
        name=words["name"].replace("(mm)", "(in)"), description=words["description"].replace("millimetres", "inches"),
        precision=words.get("precision", 2) + _DIGITS, get=get, set=put, **limits,
    )
