"""Sound metal: where a panel shows no damage against a shape that it is lined up with, as far as noise lets it tell."""

from __future__ import annotations

import numpy as np

from ..depth.areas import seeds
from ..depth.denoise import steadied
from ..depth.depth import Depth
from ..depth.grow import Field, grown
from ..statistics.noise import MEASURED, Noise, measured, stated
from ..surface.along_sheet import distance_from
from ..surface.surface import Floats, Mask, Surface

_BANDWIDTH_MM = 3.0
_SIGMAS = 3.0
_LEAST_MM, _LEAST_SEED_MM2 = 0.03, 30.0
_LEAST_SEED_POINTS = 4  # on a coarse mesh a point or two beyond the limit are noise, one in 400 of them
_WIDEN_MM = 10.0
_MOST_UNLIKE_MM = 2.0  # sides that lie further apart were not built so: common practice, no source
_CLIPS = 5  # spreads without what lies beyond the last one's limit; after two or three it moves no more
_ASSUMED = (0.05, 10.0)  # scanner's error, mm over mm, where too little metal is left to measure it on; from memory


def sound_metal(
    panel: Surface, depth: Depth, aside: Mask, misfit_mm: float, unlike_mm: float = 0.0
) -> tuple[Mask, Noise]:
    """Which vertices (n,) of ``panel`` are sound by their ``depth``, and the noise there.

    Damage is looked for in the denoised depth, followed ring by ring to where it ends, and its mask widened.
    ``aside`` (n,): vertices set aside beforehand. ``misfit_mm``: what the line-up may still be wrong by.
    ``unlike_mm``: how far sound metal may at least differ from the shape by itself, as a body's two sides do; where it
    differs by more all over, that is no damage either, up to 2 mm. 0: the shape is right.
    """
    usable = depth.judged & ~aside
    depth_mm = np.where(depth.judged, depth.depth_mm, 0.0)
    steady = steadied(panel, depth_mm, depth.judged, _BANDWIDTH_MM)
    noise = noise_on(panel, depth, usable, robust=True)
    unlike_mm = _unlike(steady.smoothed_mm[usable], unlike_mm)
    limit = max(_LEAST_MM, _SIGMAS * noise.smoothed_mm(steady.bandwidth_mm), 2 * misfit_mm, unlike_mm)
    least_mm2 = max(_LEAST_SEED_MM2, _LEAST_SEED_POINTS * noise.cell_mm2)
    label, sign = seeds(panel, steady.smoothed_mm, usable, limit, least_mm2)
    # A ring must clear twice the offset: what is only unlike is not followed all over the body.
    _, hemmed = grown(panel, label, sign, Field(depth_mm, usable, noise, max(misfit_mm, unlike_mm / 2)))
    sound = usable & ~(distance_from(panel, hemmed > 0, _WIDEN_MM) <= _WIDEN_MM)
    again = noise_on(panel, depth, sound, robust=False)
    return sound, again if again.source == MEASURED else noise


def _unlike(depth_mm: Floats, least_mm: float) -> float:
    """How far the sides of a body may lie apart by their own spread, mm, damage left out; 0 where ``least_mm`` is.

    Three times the spread by the median, again and again without what lies further out (clipping by sigmas, textbook).
    """
    if least_mm == 0 or len(depth_mm) == 0:
        return 0.0
    off, limit = np.abs(depth_mm), np.inf
    for _ in range(_CLIPS):
        limit = min(limit, max(least_mm, _SIGMAS * 1.482602 * float(np.median(off[off <= limit]))))
    return min(limit, _MOST_UNLIKE_MM)


def noise_on(panel: Surface, depth: Depth, where: Mask, robust: bool) -> Noise:
    """Noise of the depth at the vertices ``where`` (n,), or what is assumed where they are too few."""
    depth_mm = np.where(depth.judged, depth.depth_mm, 0.0)
    found = measured(panel.vertices, depth_mm, panel.vertex_areas, where, robust)
    cell = float(panel.vertex_areas @ panel.vertex_areas / panel.vertex_areas.sum())
    return found or stated(*_ASSUMED, cell, "assumed: too little sound metal")
