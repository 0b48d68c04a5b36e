"""What Read Depth says, drawn beside the mouse."""

from __future__ import annotations

import blf

from ...core.report.depth_probe import DepthProbe

_BESIDE, _ROW, _HEADING, _TEXT = 22.0, 1.45, 19.0, 14.0  # pixels at a scale of 1; rows in text sizes
_AROUND = ((0, 0), (1, -1), (-1, -1), (1, 1), (-1, 1), (0, -2))
_SHADOW = (0.09, 0.1, 0.12, 1.0)
_FONT = 0


def draw_reading(read: DepthProbe, mouse: tuple[float, float], scale: float, width: float) -> None:
    """Plain words with a soft shadow beside the mouse, on the side where there is room."""
    sizes = [_HEADING * scale, *(_TEXT * scale for _ in read.rows)]
    widths = []
    for text, size in zip((read.heading, *read.rows), sizes, strict=True):
        blf.size(_FONT, size)
        widths.append(blf.dimensions(_FONT, text)[0])
    x = mouse[0] + _BESIDE * scale
    if x + max(widths) > width - 8 * scale:
        x = mouse[0] - _BESIDE * scale - max(widths)
    y = mouse[1] + (_ROW * _TEXT * len(read.rows) / 2 - 4) * scale
    blf.enable(_FONT, blf.SHADOW)
    for text, size in zip((read.heading, *read.rows), sizes, strict=True):
        blf.size(_FONT, size)
        blf.color(_FONT, 1.0, 1.0, 1.0, 1.0)
        for dx, dy in _AROUND:  # all around and more than once, so that the shadow carries on pale colours too
            blf.shadow(_FONT, 5, *_SHADOW)
            blf.shadow_offset(_FONT, round(dx * scale), round(dy * scale))
            blf.position(_FONT, round(x), round(y), 0.0)
            blf.draw(_FONT, text)
        y -= _ROW * _TEXT * scale
    blf.disable(_FONT, blf.SHADOW)
