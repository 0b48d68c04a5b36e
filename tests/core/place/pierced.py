"""A nearly flat panel with a hole off its middle: it slides and turns along itself, but for hole and rim."""

from __future__ import annotations

import numpy as np

from core.place.fit import Target
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

LONG, SHORT, CROWN_MM = 400.0, 280.0, 20_000.0
HOLE, RADIUS = np.array([300.0, 90.0]), 25.0


def pierced(
    step: float, sigma_mm: float = 0.0, seed: int = 0, dent_mm: float = 0.0, rim_sigma_mm: float = 0.0,
    hole: Floats | None = HOLE,
) -> Surface:
    """The panel, ``step`` mm between points, its hole's rim moved onto the circle. ``rim_sigma_mm``: how far the hole,
    and each 100 mm of rim on its own, are off along the sheet, one standard deviation."""
    rng = np.random.default_rng(seed)
    x, y = grid_points(LONG, SHORT, step)
    z = -((x - LONG / 2) ** 2 + (y - SHORT / 2) ** 2) / (2 * CROWN_MM)
    z = z + noise_field(x.shape, step, 0.0, sigma_mm, rng) - cosine_dent(x, y, (120.0, 150.0), (50.0, 50.0), dent_mm)
    whole = sheet(x, y, z)
    if hole is not None:
        near = np.linalg.norm(whole.vertices[:, :2] - hole, axis=1) < RADIUS
        whole = whole.part(~near[whole.triangles].any(axis=1))
    points, rim = whole.vertices.copy(), whole.on_rim
    if hole is not None:
        off = points[:, :2] - hole
        far = np.linalg.norm(off, axis=1)
        inner = rim & (far < 2 * RADIUS)
        points[inner, :2] = hole + off[inner] * (RADIUS / far[inner])[:, None] + rim_sigma_mm * rng.standard_normal(2)
        rim = rim & ~inner
    points[rim, :2] += rim_sigma_mm * _by_the_100_mm(points[rim], rng)
    return Surface(points, whole.triangles)


def _by_the_100_mm(rim: Floats, rng: np.random.Generator) -> Floats:
    """Standard normal shifts (k, 2), the same within each 100 mm of a side."""
    x, y = rim[:, 0], rim[:, 1]
    side = np.argmin([y, LONG - x, SHORT - y, x], axis=0)
    block = np.where(side % 2 == 0, x, y) // 100
    return rng.standard_normal((4, 4, 2))[side, np.clip(block, 0, 3).astype(int)]


def target_of(surface: Surface) -> Target:
    """A shape ready to be lined up with."""
    return Target(surface, Tree(surface), 25.0)
