"""Triangles for the invented tailgate: points drawn on the flattened sheet, joined by Delaunay, holes cut out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import tailgate_surface as skin
from numpy.typing import NDArray
from scipy.spatial import Delaunay

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_CLEARANCE = 0.55  # nearest that a free point may come to a line of points, in spacings: so the line's edges survive
_POCKET_RIM_MM = 2.0  # the fine grid reaches this far past the pocket


@dataclass(frozen=True)
class Grid:
    """How a mesh of the skin is laid out: spacings in mm, how far points stray (in spacings), turn of the grid."""

    face_mm: float
    pocket_mm: float
    hole_mm: float
    bend_rows: int
    stray: float
    turn_deg: float

    @property
    def bend_mm(self) -> float:
        """Height that the bend takes in the drawing: stretched, so that its rows are as far apart as the others."""
        return self.bend_rows * self.face_mm * np.sqrt(3) / 2

    def run(self, drawn: Floats) -> Floats:
        """Run along the sheet at heights in the drawing, mm."""
        below = skin.HEM_MM - drawn
        bend = np.clip(below, 0.0, self.bend_mm) * (skin.BEND_MM / self.bend_mm)
        return np.maximum(drawn, skin.HEM_MM) - bend - np.maximum(below - self.bend_mm, 0.0)


def skin_mesh(grid: Grid, generator: np.random.Generator) -> tuple[Floats, Floats, Ints]:
    """x (n,) and run (n,) of the points in mm, and triangles (m, 3), counter-clockwise from outside."""
    coarse, fine = _hexagons(grid, grid.face_mm, generator), _hexagons(grid, grid.pocket_mm, generator)
    coarse = coarse[_past_pocket(coarse) > _POCKET_RIM_MM + 0.7 * grid.face_mm]
    fine = fine[_past_pocket(fine) < _POCKET_RIM_MM]
    drawn = np.concatenate([_lines(grid, generator), coarse[_clear(grid, coarse)], fine])
    triangles = Delaunay(drawn).simplices.astype(np.int64)
    a, b, c = (drawn[triangles[:, k]] for k in range(3))
    double_area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    in_hole = np.any([hole_reach(hole, (a + b + c) / 3) < 1.0 for hole in skin.HOLES_MM], axis=0)
    triangles[double_area < 0] = triangles[double_area < 0][:, ::-1]
    # Points along a straight rim may be a rounding error off the line: drop the slivers between them.
    triangles = triangles[~in_hole & (np.abs(double_area) > 1e-6)]
    return drawn[:, 0], grid.run(drawn[:, 1]), triangles


def hole_reach(hole: tuple[float, float, float], drawn: Floats) -> Floats:
    """Distance from a hole's middle along the sloping sheet, in hole radii; drawn (n, 2) on the face."""
    x, y, diameter = hole
    zx, zy = (float(s[0]) for s in skin.slopes(np.array([x]), np.array([y])))
    dx, dy = drawn[:, 0] - x, drawn[:, 1] - y
    return np.sqrt(dx**2 + dy**2 + (zx * dx + zy * dy) ** 2) / (diameter / 2)


def _hole_circle(hole: tuple[float, float, float], spacing: float) -> Floats:
    """Points (n, 2) in plan that lie on a true circle once they are lifted on to the sloping sheet."""
    x, y, diameter = hole
    count = round(np.pi * diameter / spacing)
    angle = 2 * np.pi * np.arange(count) / count
    flat = diameter / 2 * np.column_stack([np.cos(angle), np.sin(angle)])
    slope = np.concatenate(skin.slopes(np.array([x]), np.array([y])))
    steep = float(slope @ slope)
    shrink = np.eye(2) - (1 - 1 / np.sqrt(1 + steep)) * np.outer(slope, slope) / max(steep, 1e-30)
    return np.array([x, y]) + flat @ shrink


def _lines(grid: Grid, generator: np.random.Generator) -> Floats:
    """Points (n, 2) of the outline, of the two lines where the bend begins and ends, and of the holes' circles."""
    wide, top, hem = skin.HALF_WIDTH_MM, skin.TOP_MM, skin.HEM_MM
    turned, end = hem - grid.bend_mm, hem - grid.bend_mm - skin.FLANGE_MM
    tip, shoulder = wide - skin.FLANGE_MM, top - skin.CORNER_MM  # the flange's ends are cut at 45 degrees
    outline = [(-wide, shoulder), (-wide, hem), (-wide, turned), (-tip, end), (tip, end), (wide, turned), (wide, hem),
               (wide, shoulder)]
    lines = [_along(*ends, grid, generator) for ends in zip(outline[:-1], outline[1:], strict=True)]
    lines.append(_along((-wide + skin.CORNER_MM, top), (wide - skin.CORNER_MM, top), grid, generator))
    lines += [_along((-wide, level), (wide, level), grid, generator)[1:] for level in (hem, turned)]
    steps = round(np.pi / 2 * skin.CORNER_MM / min(grid.face_mm, 3.0))
    angle = np.pi / 2 * np.arange(steps) / steps
    bow = skin.CORNER_MM * np.column_stack([np.cos(angle), np.sin(angle)]) + [wide - skin.CORNER_MM, shoulder]
    lines += [bow, bow[1:] * [-1.0, 1.0], np.array([[wide - skin.CORNER_MM, top]])]
    return np.concatenate(lines + [_hole_circle(hole, grid.hole_mm) for hole in skin.HOLES_MM])


def _along(start: tuple[float, float], end: tuple[float, float], grid: Grid, generator: np.random.Generator) -> Floats:
    """Points (n, 2) from start, included, to end, left out; between them they stray along the line only."""
    first, last = np.array(start), np.array(end)
    count = max(2, round(float(np.linalg.norm(last - first)) / grid.face_mm))
    share = np.arange(count, dtype=np.float64)
    share[1:] += grid.stray * generator.uniform(-1, 1, count - 1)
    return first + (share / count)[:, None] * (last - first)


def _hexagons(grid: Grid, spacing: float, generator: np.random.Generator) -> Floats:
    """Points (n, 2) of a turned hexagonal grid over the whole drawing; each strays a little."""
    radius = np.hypot(skin.HALF_WIDTH_MM, skin.TOP_MM + grid.bend_mm + skin.FLANGE_MM) + spacing
    steps = np.arange(-np.ceil(radius / spacing), np.ceil(radius / spacing) + 1)
    column, row = np.meshgrid(steps, np.arange(-np.ceil(1.2 * radius / spacing), np.ceil(1.2 * radius / spacing) + 1))
    points = spacing * np.column_stack([(column + 0.5 * (row % 2)).ravel(), (row * np.sqrt(3) / 2).ravel()])
    turn = np.radians(grid.turn_deg)
    points = points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return points + grid.stray * spacing * generator.uniform(-1, 1, points.shape)


def _past_pocket(drawn: Floats) -> Floats:
    return skin.spine_distance(drawn[:, 0], drawn[:, 1]) - skin.POCKET_HALF_HEIGHT_MM


def _clear(grid: Grid, drawn: Floats) -> NDArray[np.bool_]:
    """Whether points (n, 2) lie within the outline and far enough from every line of points."""
    x, y = np.abs(drawn[:, 0]), drawn[:, 1]
    gap = _CLEARANCE * grid.face_mm
    turned = skin.HEM_MM - grid.bend_mm
    corner = np.array([skin.HALF_WIDTH_MM, skin.TOP_MM]) - skin.CORNER_MM
    in_corner = np.hypot(np.maximum(x - corner[0], 0), np.maximum(y - corner[1], 0)) < skin.CORNER_MM - gap
    half_width = skin.HALF_WIDTH_MM - np.maximum(turned - y, 0.0)
    inside = in_corner & (x < half_width - gap * np.sqrt(2)) & (y > turned - skin.FLANGE_MM + gap)
    off_bend = (np.abs(y - skin.HEM_MM) > gap) & (np.abs(y - turned) > gap)
    off_holes = [hole_reach(hole, drawn) > 1.0 + 2 * gap / hole[2] for hole in skin.HOLES_MM]
    return inside & off_bend & np.all(off_holes, axis=0)
