"""A drawing as plain shapes that window, PDF and SVG can all draw, and its SVG.

x runs right and y **down**, in any one unit; colours are red, green, blue, 0 to 255.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from xml.sax.saxutils import escape

import numpy as np
from numpy.typing import NDArray

from .legend import Colour

HATCH: Colour = (214, 196, 235)  # the lines of a hatch
DOT: Colour = (206, 202, 195)
CHARACTER = 0.6  # width of a character in text sizes, to set out by: on the wide side for a sans serif


@dataclass(frozen=True)
class Polygon:
    """A filled outline, points (k, 2); with a hatch or dots over its fill where so marked."""

    points: NDArray[np.float64]
    fill: Colour
    hatch: bool = False
    dots: bool = False


@dataclass(frozen=True)
class Line:
    """A line through points (k, 2), round at ends and corners."""

    points: NDArray[np.float64]
    colour: Colour
    width: float


@dataclass(frozen=True)
class Text:
    """Words whose baseline passes through y; ``anchor`` "start", "middle" or "end" says what part lies at x."""

    x: float
    y: float
    text: str
    size: float
    colour: Colour
    anchor: str = "start"


Shape = Polygon | Line | Text


@dataclass(frozen=True)
class Drawing:
    """Shapes from back to front, inside 0 to ``width`` and 0 to ``height``."""

    width: float
    height: float
    shapes: tuple[Shape, ...]


def moved(shape: Shape, right: float, down: float) -> Shape:
    """The same shape elsewhere.

    >>> moved(Text(1.0, 2.0, "a", 1.0, HATCH), 3.0, 4.0).y
    6.0
    """
    if isinstance(shape, Text):
        return replace(shape, x=shape.x + right, y=shape.y + down)
    return replace(shape, points=shape.points + np.array([right, down], dtype=np.float64))


def svg(drawing: Drawing) -> str:
    """The drawing as an SVG 1.1 document, with patterns for hatch and dots.

    >>> svg(Drawing(2.0, 1.0, ())).startswith('<svg xmlns="http://www.w3.org/2000/svg" width="2" height="1"')
    True
    """
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{drawing.width:g}" height="{drawing.height:g}" '
        f'viewBox="0 0 {drawing.width:g} {drawing.height:g}" font-family="sans-serif">',
        _patterns(min(drawing.width, drawing.height) / 48),
    ]
    for shape in drawing.shapes:
        parts += _element(shape)
    return "\n".join([*parts, "</svg>", ""])


def _patterns(grain: float) -> str:
    stripe, between, dot = 0.25 * grain, 0.6 * grain, 0.13 * grain
    return (
        f'<defs><pattern id="hatch" width="{grain:.6g}" height="{grain:.6g}" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)">'
        f'<rect width="{stripe:.6g}" height="{grain:.6g}" fill="{_hex(HATCH)}"/></pattern>'
        f'<pattern id="dots" width="{between:.6g}" height="{between:.6g}" patternUnits="userSpaceOnUse">'
        f'<circle cx="{between / 2:.6g}" cy="{between / 2:.6g}" r="{dot:.6g}" fill="{_hex(DOT)}"/></pattern></defs>'
    )


def _element(shape: Shape) -> list[str]:
    if isinstance(shape, Text):
        return [
            f'<text x="{shape.x:.6g}" y="{shape.y:.6g}" font-size="{shape.size:.6g}" text-anchor="{shape.anchor}" '
            f'fill="{_hex(shape.colour)}">{escape(shape.text)}</text>'
        ]
    points = " ".join(f"{x:.6g},{y:.6g}" for x, y in shape.points)
    if isinstance(shape, Line):
        return [
            f'<polyline points="{points}" fill="none" stroke="{_hex(shape.colour)}" '
            f'stroke-width="{shape.width:.6g}" stroke-linecap="round" stroke-linejoin="round"/>'
        ]
    fills = [_hex(shape.fill), *(f"url(#{name})" for name in ("hatch", "dots") if getattr(shape, name))]
    return [f'<polygon points="{points}" fill="{fill}"/>' for fill in fills]


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
