"""The drawing's SVG, read back by Python's own XML parser."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import numpy as np

from core.bench.lay_up import LayUp
from core.legend.drawing import Drawing, Line, Polygon, Text, svg
from core.legend.legend import legend
from core.legend.legend_section import legend_section

SVG = "{http://www.w3.org/2000/svg}"
TRIANGLE = np.array([[0.0, 0.0], [4.0, 0.0], [0.0, 2.5]])


def test_svg_says_what_the_shapes_say() -> None:
    shapes = (
        Polygon(TRIANGLE, (255, 0, 16), hatch=True),
        Polygon(TRIANGLE, (1, 2, 3), dots=True),
        Line(TRIANGLE[:2], (0, 0, 0), 0.5),
        Text(1.0, 2.0, "5 < 6 & more", 1.5, (9, 9, 9), "end"),
    )
    root = ElementTree.fromstring(svg(Drawing(4.0, 3.0, shapes)))
    assert root.get("viewBox") == "0 0 4 3"
    # W3C SVG 1.1, 13.3: a pattern is named by url(#id) and must exist
    patterns = {f"url(#{pattern.get('id')})" for pattern in root.iter(f"{SVG}pattern")}
    polygons = list(root.iter(f"{SVG}polygon"))
    assert [polygon.get("fill") for polygon in polygons] == ["#ff0010", "url(#hatch)", "#010203", "url(#dots)"]
    assert patterns == {"url(#hatch)", "url(#dots)"}
    points = np.array([pair.split(",") for pair in str(polygons[0].get("points")).split()], dtype=float)
    np.testing.assert_allclose(points, TRIANGLE)
    (line,) = root.iter(f"{SVG}polyline")
    assert (line.get("stroke"), line.get("stroke-width"), line.get("fill")) == ("#000000", "0.5", "none")
    (text,) = root.iter(f"{SVG}text")
    assert (text.text, text.get("x"), text.get("y"), text.get("text-anchor")) == ("5 < 6 & more", "1", "2", "end")


def test_svg_of_the_legend_holds_every_shape_in_order() -> None:
    drawing = legend_section(legend(greatest_mm=3.2), 320, 180, lay_up=LayUp(1.0, 0.8, 0.0, "filler"))
    root = ElementTree.fromstring(svg(drawing))
    names = {Polygon: "polygon", Line: "polyline", Text: "text"}
    wanted = [names[type(shape)] for shape in drawing.shapes]
    found = [e.tag.removeprefix(SVG) for e in root if "url" not in e.get("fill", "") and e.tag != f"{SVG}defs"]
    assert found == wanted
    hatched = sum(isinstance(shape, Polygon) and shape.hatch for shape in drawing.shapes)
    assert hatched >= 1
    assert sum(e.get("fill") == "url(#hatch)" for e in root) == hatched
