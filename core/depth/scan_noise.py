"""Where a scan's noise can be seen: in its depths on sound metal, or where those are 0 in the metal's own roughness."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..statistics.noise import Noise, measured
from ..statistics.roughness import roughness
from ..surface.surface import Floats, Mask, Surface
from .shape_trust import ShapeDoubt

ROUGHNESS = "measured on the metal's own roughness"
_OF_A_BLOCK = 0.25  # wider means would miss what the smooth patches took away
_ROUNDING = 6e-8  # of the greatest coordinate: a number of a file's single precision (IEEE 754: half of 2 to the -23)
_ROUNDINGS = 16.0  # of them at most between a depth and 0: each foot's distance comes of a few points, turned
_MOST, _TOO_QUIET = 0.5, 0.25


@dataclass(frozen=True, eq=False)
class SeenNoise:
    """Values (n,) mm on a panel whose spread is its noise where they are ``used`` (n,), or None: its own height is.

    ``rough``: what varies slowly in them is none. ``itself_mm``: 0, or where the finished shape is this very scan but
    for what was invented, what a file rounds off: then the line-up is known.
    """

    values_mm: Floats | None
    used: Mask
    rough: bool = True
    itself_mm: float = 0.0

    def noise(self, panel: Surface, sound: Mask, robust: bool) -> Noise | None:
        """The noise where ``sound`` (n,), as `measured` has it."""
        sound, values, widest = sound & self.used, self.values_mm, np.inf
        if self.rough or values is None:  # damage would bend the patches
            rough = roughness(panel, sound, values)
            values, widest = rough.left_mm, _OF_A_BLOCK * rough.block_mm
            sound = sound & np.isfinite(values)
        found = measured(panel.vertices, values, panel.vertex_areas, sound, robust, widest)
        return replace(found, source=ROUGHNESS) if found is not None and self.values_mm is None else found


def seen_noise(panel: Surface, depth_mm: Floats, judged: Mask, doubt: ShapeDoubt | None) -> SeenNoise:
    """Where the noise of ``panel`` is seen; ``depth_mm`` (n,), with 0 where not ``judged`` (n,).

    Depths show it, unless the finished shape is the scan itself there, or that scan set in or out: then they vary less
    than the panel is rough, and its roughness shows it. Where the shape has a doubt of its own on most metal, as a
    mirrored one has, what varies slowly is that, and only the rest is noise.
    """
    if doubt is None:
        return SeenNoise(depth_mm, judged, rough=False)
    kept = judged & ~doubt.made
    if kept.any():
        rounding = _ROUNDING * float(np.abs(panel.vertices + panel.origin).max())
        alike, middle = _ROUNDINGS * rounding, float(np.median(depth_mm[kept]))
        rough = roughness(panel, kept).left_mm
        told = rough[np.isfinite(rough)]
        quiet = max(alike, _TOO_QUIET * float(np.median(np.abs(told))) if len(told) else 0.0)
        if float(np.median(np.abs(depth_mm[kept] - middle))) <= quiet:
            return SeenNoise(None, kept, itself_mm=rounding if abs(middle) <= alike else 0.0)
    areas = panel.vertex_areas
    doubted = areas[judged & (doubt.doubt_mm > 0)].sum() > _MOST * areas[judged].sum()
    return SeenNoise(depth_mm, judged, rough=bool(doubted))
