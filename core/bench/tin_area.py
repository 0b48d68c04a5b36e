"""The prepared metal around a fill: tinned for solder, keyed for filler."""

from __future__ import annotations

from ..surface.along_sheet import distance_from
from ..surface.surface import Mask, Surface


def margin_area_mm2(panel: Surface, area: Mask, width_mm: float) -> float:
    """Area of the metal within ``width_mm`` of the vertices in ``area`` (n,), but outside them, mm2.

    Measured along the sheet, so it ends at rims and holes.
    """
    if width_mm <= 0 or not area.any():
        return 0.0
    distance = distance_from(panel, area, width_mm)
    return float(panel.vertex_areas[(distance <= width_mm) & ~area].sum())
