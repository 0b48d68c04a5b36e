"""Core's sentences as Blender's window says them: its own controls for the command line's options, and shop units."""

from __future__ import annotations

import re
from collections.abc import Callable

from ..legend.legend import INCH_MM

# The longest first where one begins as another does.
_CONTROLS = {
    "--surface laid or primed": "Panel Is: Laid or Primed, under Set Out",
    "--surface laid": "Panel Is: Laid, under Set Out",
    "--panel-unit": "Unit under Set Out",
    "--target-unit": "Unit under Finished Shape",
    "--finish-mm": "Shape Was: Painted, under Finished Shape",
    "--line-up": "use Line Up",
}
_ANY = re.compile("|".join(map(re.escape, _CONTROLS)))
_ONE = r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?"
_NUMBER = re.compile(_ONE)
# One number, some to others, or a place in brackets, and their unit.
_MEASURED = re.compile(rf"((?<![\w.]){_ONE}(?:(?: to | x ){_ONE})*|\({_ONE}(?:, {_ONE})+\)) (mm|cm²|cm³)(?!\w)")
_INCHES = {"mm": ("in", INCH_MM), "cm²": ("sq in", INCH_MM**2 / 100), "cm³": ("cu in", INCH_MM**3 / 1000)}


def in_window(sentence: str, unit: str) -> str:
    """``sentence`` as Blender's window says it, its measures in the shop's ``unit``, "mm" or "inch".

    >>> in_window("their units differ: state --panel-unit and --target-unit", "mm")
    'their units differ: state Unit under Set Out and Unit under Finished Shape'
    >>> in_window("Low 1: 4.5 mm deep, 93 cm² about (254, -12.7, 0) mm; 2 to 5 mm is usual", "inch")
    'Low 1: 0.177 in deep, 14.4 sq in about (10, -0.5, 0) in; 0.0787 to 0.197 in is usual'
    >>> in_window("the whole panel is marked as damaged", "inch")
    'the whole panel is marked as damaged'
    """
    said = _ANY.sub(lambda found: _CONTROLS[found.group()], sentence)
    return _MEASURED.sub(_in_inches, said) if unit == "inch" else said


def _in_inches(found: re.Match[str]) -> str:
    word, size = _INCHES[found.group(2)]
    return f"{_NUMBER.sub(_divided_by(size), found.group(1))} {word}"


def _divided_by(size: float) -> Callable[[re.Match[str]], str]:
    return lambda found: f"{float(found.group()) / size:.3g}"
