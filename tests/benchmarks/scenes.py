"""Panels and finished shapes to time: a crowned skin with dents and smooth noise, in row order or shuffled."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from trimesh import Trimesh

from tests.core.shapes import cosine_dent, grid_rows, noise_field

WIDTH_MM, HEIGHT_MM = 1000.0, 800.0
PAST_MM = 5.0  # the finished shape goes on past the panel
NOISE_MM, NOISE_LENGTH_MM = 0.05, 8.0
_DENTS = ((300.0, 300.0, 80.0, 3.0), (700.0, 500.0, 50.0, 1.5), (500.0, 100.0, 40.0, -0.8))  # x, y, radius, depth

Points = NDArray[np.float64]
Rows = NDArray[np.int64]


@dataclass(frozen=True)
class Mesh:
    """Points (n, 3) mm, rounded as 32-bit files round them, and triangles (m, 3)."""

    points: Points
    triangles: Rows


@dataclass(frozen=True)
class Scene:
    """A panel and its finished shape, about as many triangles each."""

    panel: Mesh
    target: Mesh


def scene(triangles: int, seed: int = 1) -> Scene:
    """A scene in row order with about ``triangles`` triangles in each mesh."""
    rng = np.random.default_rng(seed)
    x, y = _grid(triangles, 0.0)
    step = WIDTH_MM / (x.shape[0] - 1)
    depth = sum(cosine_dent(x, y, (cx, cy), (a, a), d) for cx, cy, a, d in _DENTS)
    noise = noise_field((x.shape[0], x.shape[1]), step, NOISE_LENGTH_MM, NOISE_MM, rng)
    panel = _mesh(x, y, _crown(x, y) - depth + noise)
    x, y = _grid(triangles, PAST_MM)
    return Scene(panel, _mesh(x, y, _crown(x, y)))


def shuffled(made: Scene, seed: int = 2) -> Scene:
    """The same scene with points and triangles in random order, as scans may come."""
    rng = np.random.default_rng(seed)
    return Scene(_shuffled(made.panel, rng), _shuffled(made.target, rng))


def write(mesh: Mesh, path: Path) -> Path:
    """The mesh as a binary file, PLY or STL by the path's ending."""
    Trimesh(mesh.points, mesh.triangles, process=False, validate=False).export(path)
    return path


def _grid(triangles: int, past: float) -> tuple[Points, Points]:
    nx = int(np.sqrt(triangles / 2 * WIDTH_MM / HEIGHT_MM)) + 1
    ny = int(triangles / 2 / nx) + 1
    sides = np.linspace(-past, WIDTH_MM + past, nx + 1), np.linspace(-past, HEIGHT_MM + past, ny + 1)
    x, y = np.meshgrid(*sides, indexing="ij")
    return x, y


def _crown(x: Points, y: Points) -> Points:
    height: Points = -((x - WIDTH_MM / 2) ** 2) / 5000 - (y - HEIGHT_MM / 2) ** 2 / 3000
    return height


def _mesh(x: Points, y: Points, z: Points) -> Mesh:
    points = np.stack([x.ravel(), y.ravel(), z.ravel()], axis=1).astype(np.float32).astype(np.float64)
    nx, ny = x.shape
    rows = grid_rows(nx, ny)
    half = len(rows) // 2
    return Mesh(points, np.stack([rows[:half], rows[half:]], axis=1).reshape(-1, 3))  # the two of a cell together


def _shuffled(mesh: Mesh, rng: np.random.Generator) -> Mesh:
    order = rng.permutation(len(mesh.points))
    row = np.argsort(order)
    return Mesh(mesh.points[order], row[mesh.triangles][rng.permutation(len(mesh.triangles))])
