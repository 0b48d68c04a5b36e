"""What Read Depth says, on a small plate beside the mouse in the theme's own colours."""

from __future__ import annotations

from typing import Any

import blf
import bpy
import gpu
from gpu_extras.batch import batch_for_shader

from ...core.legend.beside import Room, beside
from ...core.report.depth_probe import DepthProbe

_BESIDE, _MARGIN = 22.0, 9.0  # pixels at a scale of 1: from the mouse, around the words
_HEADING, _TEXT, _ROW = 18.0, 13.0, 1.5  # sizes of text, and rows in them
_FONT = 0


def draw_reading(read: DepthProbe, mouse: tuple[float, float], scale: float, free: Room) -> None:
    """The reading's heading and rows beside the mouse, wherever in the ``free`` part of the view there is room."""
    lines = [(read.heading, _HEADING * scale), *((row, _TEXT * scale) for row in read.rows)]
    margin = _MARGIN * scale
    width = max(_width(text, size) for text, size in lines) + 2 * margin
    height = (_HEADING + _ROW * _TEXT * len(read.rows)) * scale + 2 * margin
    left, bottom = beside(mouse, (width, height), free, _BESIDE * scale)
    colours = bpy.context.preferences.themes[0].user_interface.wcol_tooltip
    _plate(left, bottom, width, height, colours)
    y = bottom + height - margin - 0.8 * _HEADING * scale
    for text, size in lines:
        blf.size(_FONT, size)
        blf.color(_FONT, *colours.text, 1.0)
        blf.position(_FONT, round(left + margin), round(y), 0.0)
        blf.draw(_FONT, text)
        y -= _ROW * _TEXT * scale


def _width(text: str, size: float) -> float:
    blf.size(_FONT, size)
    return blf.dimensions(_FONT, text)[0]


def _plate(left: float, bottom: float, width: float, height: float, colours: Any) -> None:
    right, top = left + width, bottom + height
    corners = [(left, bottom), (right, bottom), (right, top), (left, top)]
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    gpu.state.blend_set("ALPHA")
    shader.uniform_float("color", (*colours.inner[:3], 1.0))
    batch_for_shader(shader, "TRIS", {"pos": corners}, indices=[(0, 1, 2), (0, 2, 3)]).draw(shader)
    shader.uniform_float("color", colours.outline)
    batch_for_shader(shader, "LINE_STRIP", {"pos": [*corners, corners[0]]}).draw(shader)
    gpu.state.blend_set("NONE")
