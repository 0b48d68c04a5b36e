"""How far a mirrored body may be off, place by place: its two sides are alike only so far."""

from __future__ import annotations

import numpy as np

from ..depth.shape_trust import ShapeTrust, together
from ..place.symmetry import Symmetry
from ..surface.surface import Floats, Mask, Surface, dot

_NEAR_MM = 150.0  # how far around it a place is judged by: a body is built alike over a few hand's breadths
_CUBE_MM, _MOST_CUBES = 20.0, 2500  # a scanner's noise averages out over them, a body's own difference does not


def trust_of_image(
    body: Surface, symmetry: Symmetry, image: Surface, own: ShapeTrust | None = None
) -> ShapeTrust | None:
    """`sides_trust` at the vertices of the mirror ``image`` of ``body`` or of a part of it, with the body's ``own``."""
    trust = together(sides_trust(body, symmetry), own)
    return trust if trust is None or image.row_of_input is None else trust.moved(image)


def sides_trust(body: Surface, symmetry: Symmetry) -> ShapeTrust:
    """Trust of the mirror image of each of ``body``'s vertices, (n,): by how far apart the sides lie on sound metal
    near there, and by what the plane leaves uncertain. Nan where no metal at all is alike.

    Damage tells nothing of it, so a damaged place goes by the metal around it.
    """
    sound = symmetry.fit.sound & np.isfinite(symmetry.apart_mm)
    held = symmetry.held_mm
    known = np.isfinite(held)
    if not (sound.any() and known.any()):
        return ShapeTrust(np.zeros(len(held), dtype=bool), np.full(len(held), np.nan))
    plane = np.where(known, held, np.sqrt(np.mean(held[known] ** 2)))
    apart = _rms_near(body, np.where(sound, symmetry.apart_mm, 0.0), sound)
    return ShapeTrust(np.zeros(len(held), dtype=bool), np.hypot(apart, plane))


def _rms_near(body: Surface, values: Floats, used: Mask) -> Floats:
    """Root mean square of the means of ``values`` (n,) over cubes, of those near each vertex, (n,), where ``used``."""
    side = max(_CUBE_MM, float(np.sqrt(body.area / _MOST_CUBES)))
    places = np.floor((body.vertices - body.box[0]) / side).astype(np.int64)
    _, cube = np.unique(places @ np.array([1, 1 << 20, 1 << 40]), return_inverse=True)
    all_of, weight = np.bincount(cube, body.vertex_areas), np.bincount(cube, body.vertex_areas * used)
    sums = np.stack([np.bincount(cube, body.vertex_areas * body.vertices[:, k]) for k in range(3)], axis=1)
    middle: Floats = sums / np.maximum(all_of, 1e-12)[:, None]
    mean = np.bincount(cube, body.vertex_areas * used * values) / np.maximum(weight, 1e-12)
    told = np.flatnonzero(weight > 0)
    square = dot(middle, middle)
    apart = np.maximum(square[:, None] + square[told] - 2 * middle @ middle[told].T, 0.0)
    near = weight[told] * np.exp((apart.min(axis=1, keepdims=True) - apart) / (2 * _NEAR_MM**2))
    rms: Floats = np.sqrt(near @ mean[told] ** 2 / near.sum(axis=1))[cube]
    return rms
