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
    gain = float((gaussian_filter(line, width, mode="constant") ** 2).sum())  # along one axis; two axes, one square root
    white = rng.standard_normal((shape[0] + 2 * pad, shape[1] + 2 * pad))
    return sigma / gain * gaussian_filter(white, width, mode="constant")[pad:-pad, pad:-pad]
