"""Lines drawn on the panel as curve objects in our collection, one a layer: contours, hatch, dots.

They are made with the plan and kept hidden, so that they are there after a reload without planning again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import bpy
import numpy as np

from ...core.map.drawn import COLOURS, CONTOURS, DOTS, DOTS_FAR, HATCHED, PALE, DrawnLine, unpacked
from ..names import ids
from .on_panel import material, put_on

NAMES = {CONTOURS: ids.CONTOURS, PALE: ids.CONTOURS_PALE, HATCHED: ids.HATCH, DOTS: ids.DOTS, DOTS_FAR: ids.DOTS_FAR}
_ROUND = {DOTS: 2, DOTS_FAR: 2}  # a dot is seen end on; lines need no rounding


def put(scene: bpy.types.Scene, arrays: dict[str, Any], panel: bpy.types.Object | None) -> None:
    """Make all layers of a plan's answer anew; a layer that is shown stays shown."""
    for layer, name in NAMES.items():
        put_layer(scene, name, layer, unpacked(arrays, layer), panel)


def put_layer(
    scene: bpy.types.Scene, name: str, layer: str, lines: Sequence[DrawnLine], panel: bpy.types.Object | None
) -> bpy.types.Object:
    """The object ``name`` with exactly these lines, in the world, moving with the ``panel``."""
    return put_on(scene, name, _curve(name, layer, lines), COLOURS[layer], panel)


def _curve(name: str, layer: str, lines: Sequence[DrawnLine]) -> bpy.types.Curve:
    curve = bpy.data.curves.new(name, "CURVE")
    curve.dimensions, curve.bevel_resolution, curve.use_fill_caps = "3D", _ROUND.get(layer, 0), True
    widths = [np.broadcast_to(np.asarray(line.width, dtype=np.float32), (len(line.points),)) for line in lines]
    usual = float(max((width.max() for width in widths), default=1.0))
    curve.bevel_depth = usual / 2
    for line, width in zip(lines, widths, strict=True):
        spline = curve.splines.new("POLY")
        spline.points.add(len(line.points) - 1)
        points = np.ones((len(line.points), 4), dtype=np.float32)
        points[:, :3] = line.points
        spline.points.foreach_set("co", points.ravel())
        spline.points.foreach_set("radius", np.ascontiguousarray(width / usual, dtype=np.float32))
        spline.use_cyclic_u = line.closed
    curve.materials.append(material(name, COLOURS[layer]))
    return curve
