"""Test geometry: sheets over a plane, dents with closed volumes, and noise made without the code under test."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.ndimage import gaussian_filter
from scipy.spatial import Delaunay

from core.surface.surface import Floats, Ints, Surface

Height = Callable[[Floats, Floats], Floats]


def grid_rows(nx: int, ny: int) -> Ints:
    """Triangles (m, 3) of a grid of nx x ny points in row order, all cut along the same diagonal."""
    row = np.arange(nx * ny, dtype=np.int64).reshape(nx, ny)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])


def grid_points(width: float, height: float, step: float) -> tuple[Floats, Floats]:
    """x and y, (nx, ny) each, of a grid over 0..width, 0..height mm."""
    nx, ny = round(width / step) + 1, round(height / step) + 1
    x, y = np.meshgrid(np.linspace(0, width, nx), np.linspace(0, height, ny), indexing="ij")
    return x, y


def sheet(x: Floats, y: Floats, z: Floats) -> Surface:
    """The surface through a grid's points, each (nx, ny) mm, facing up."""
    return Surface(np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1), grid_rows(*x.shape))


def flat_target(width: float, height: float, past: float = 100.0) -> Surface:
    """Two triangles at z = 0 that reach ``past`` the panel's edges."""
    x, y = np.meshgrid([-past, width + past], [-past, height + past], indexing="ij")
    return sheet(x, y, np.zeros((2, 2)))


def irregular(width: float, height: float, step: float, rng: np.random.Generator, depth: Height) -> Surface:
    """A sheet over a grid shaken by a third of its step and joined by Delaunay, ``depth`` mm below z = 0."""
    x, y = grid_points(width, height, step)
    shake = step / 3 * rng.uniform(-1, 1, (2, *x.shape))
    inside_x, inside_y = (x > 0) & (x < width), (y > 0) & (y < height)
    x, y = (x + shake[0] * inside_x).ravel(), (y + shake[1] * inside_y).ravel()
    triangles = Delaunay(np.stack([x, y], axis=1)).simplices.astype(np.int64)
    made = Surface(np.stack([x, y, -depth(x, y)], axis=1), triangles)
    return made.turned(made.normals[:, 2] < 0)


def cap_dent(x: Floats, y: Floats, centre: tuple[float, float], mouth: float, depth: float) -> Floats:
    """A spherical cap, mm deep; volume pi h (3 a^2 + h^2) / 6 (handbook formula)."""
    radius = (mouth**2 + depth**2) / (2 * depth)
    square = (x - centre[0]) ** 2 + (y - centre[1]) ** 2
    return np.where(square < mouth**2, np.sqrt(np.maximum(radius**2 - square, 0)) - (radius - depth), 0.0)


def cosine_dent(
    x: Floats, y: Floats, centre: tuple[float, float], half: tuple[float, float], depth: float
) -> Floats:
    """d/2 (1 + cos pi r) inside an ellipse of half axes a, b; volume pi a b d (1/2 - 2/pi^2) (calculus)."""
    r = np.hypot((x - centre[0]) / half[0], (y - centre[1]) / half[1])
    return np.where(r < 1, depth / 2 * (1 + np.cos(np.pi * np.minimum(r, 1))), 0.0)


def noise_field(
    shape: tuple[int, int], step: float, length: float, sigma: float, rng: np.random.Generator
) -> Floats:
    """Gaussian noise on a grid, mm: white where ``length`` is 0, else of covariance sigma^2 exp(-d^2 / 2 length^2).

    White noise filtered by a Gaussian of width length / sqrt(2), whose self-convolution is that covariance;
    scaled by the filter's own sum of squares. The edge strip, where the filter lacks neighbours, is cut off.
    """
    if length == 0:
        return sigma * rng.standard_normal(shape)
    width = length / np.sqrt(2) / step
    pad = int(np.ceil(4 * width))
    line = np.zeros(2 * pad + 1)
    line[pad] = 1.0
    gain = float((gaussian_filter(line, width, mode="constant") ** 2).sum())  # two axes, one square root
    white = rng.standard_normal((shape[0] + 2 * pad, shape[1] + 2 * pad))
    return sigma / gain * gaussian_filter(white, width, mode="constant")[pad:-pad, pad:-pad]


def extruded(x: Floats, z: Floats, y: Floats) -> Surface:
    """A line through the points (x, z), drawn out along ``y``; the side to the left of the line's way is outside."""
    along, across = np.meshgrid(np.arange(len(x)), y, indexing="ij")
    return sheet(x[along], across, z[along])


def roof(u: Floats, y: Floats, turn_deg: float, set_in: float = 0.0) -> Surface:
    """Two planes that meet at x = 0, ``turn_deg`` between their normals (negative: a valley), with mitred corner.

    ``u`` counts along the slope, 0 at the corner; ``set_in`` mm below the planes with set_in 0, square to them.
    """
    half = np.radians(turn_deg) / 2
    return extruded(u * np.cos(half), -set_in / np.cos(half) - np.abs(u) * np.sin(half), y)


def sphere_patch(x: Floats, y: Floats, radius: float, below: Floats | float = 0.0) -> Surface:
    """Part of a sphere over angles x / R, y / R, its top at z = 0, ``below`` mm set in along its normals."""
    along = np.stack([np.tan(x / radius), np.tan(y / radius), np.ones_like(x)], axis=-1)
    along /= np.linalg.norm(along, axis=-1, keepdims=True)
    place = along * (radius - np.asarray(below))[..., None]
    return sheet(place[..., 0], place[..., 1], place[..., 2] - radius)


def torus_patch(u: Floats, v: Floats, ring: float, tube: float, below: Floats | float = 0.0) -> Surface:
    """Outer side of a torus over arcs u (along the ring's outside) and v (along the tube), mm; ``below`` as above.

    A cylinder where ``ring`` is infinite.
    """
    t = tube - np.asarray(below) + 0 * v
    z, out = t * np.sin(v / tube), t * np.cos(v / tube)
    if np.isinf(ring):
        return sheet(u, z, out - tube)
    angle = u / (ring + tube)
    return sheet((ring + out) * np.sin(angle), z, (ring + out) * np.cos(angle) - ring - tube)


def saddle_patch(x: Floats, y: Floats, radius: float, below: Floats | float = 0.0) -> Surface:
    """z = (x^2 - y^2) / 2R, ``below`` mm set in along its normals."""
    normal = np.stack([-x / radius, y / radius, np.ones_like(x)], axis=-1)
    normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
    place = np.stack([x, y, (x**2 - y**2) / (2 * radius)], axis=-1) - np.asarray(below)[..., None] * normal
    return sheet(place[..., 0], place[..., 1], place[..., 2])


def bank(stations: Floats, heights: Floats, base: float, slope: float, rows: int = 1) -> Surface:
    """An embankment of ``heights`` at ``stations`` along y: a flat ``base`` wide, sides out ``slope`` for 1 of height.

    Negative heights make a cutting. Its sides end at z = 0. Sides of no height give triangles of no area: dropped.
    """
    y = np.concatenate([np.linspace(a, b, rows, endpoint=False) for a, b in zip(stations, stations[1:], strict=False)])
    y = np.append(y, stations[-1])
    h = np.interp(y, stations, heights)
    outer = base / 2 + slope * np.abs(h)
    x = np.stack([-outer, 0 * h - base / 2, 0 * h + base / 2, outer])
    z = np.stack([0 * h, h, h, 0 * h])
    made = sheet(x, np.broadcast_to(y, x.shape), z)
    return made.part(made.areas > 1e-12)


def moved(surface: Surface, turn: Floats, shift: Floats) -> Surface:
    """The surface turned by the matrix ``turn`` (3, 3) and then shifted (3,) mm."""
    return Surface(surface.vertices @ turn.T + shift, surface.triangles)


def shuffled(surface: Surface, rng: np.random.Generator) -> tuple[Surface, Ints]:
    """The same surface with vertices and triangles in any order, each triangle begun at any corner; and the new
    row of each vertex (n,)."""
    row = rng.permutation(len(surface.vertices))
    vertices = np.empty_like(surface.vertices)
    vertices[row] = surface.vertices
    triangles = row[surface.triangles[rng.permutation(len(surface.triangles))]]
    turn = (rng.integers(0, 3, len(triangles))[:, None] + np.arange(3)) % 3
    return Surface(vertices, np.take_along_axis(triangles, turn, axis=1)), row


def lidded(surface: Surface, up_mm: float) -> tuple[Floats, Ints]:
    """Vertices and triangles of a closed body between a sheet and a copy of it ``up_mm`` higher, with straight walls.

    For boolean witnesses: the walls join the rims, straight up.
    """
    n, t = len(surface.vertices), surface.triangles
    start, end = t.ravel(), np.roll(t, -1, axis=1).ravel()
    alone = ~np.isin(start * n + end, end * n + start)
    a, b = start[alone], end[alone]
    walls = np.concatenate([np.stack([a, b + n, b], axis=1), np.stack([a, a + n, b + n], axis=1)])
    # Below and above must differ by a shift only, so that the volume between is that of the sheets.
    return (
        np.concatenate([surface.vertices, surface.vertices + [0, 0, up_mm]]),
        np.concatenate([t[:, ::-1], t + n, walls[:, ::-1]]),
    )
