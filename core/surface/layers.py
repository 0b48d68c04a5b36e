"""Scan layers that lie on one another: each part of the sheet is to be counted once."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from .nearest import Tree
from .pieces import Split, pieces
from .surface import Floats, Ints, Mask, Surface, cross, dot

LAYER_MM = 0.3  # sheets nearer than this, facing the same way, are one sheet scanned twice
SAME_WAY = 0.5  # least dot product of normals that face the same way
TOLD_SHARE = 0.005  # a piece that covers itself on more than this share of its area is refused
LOOKED = 100_000  # about so many triangles are looked at for a piece that covers itself
_SHIFT = 0.37  # of a cell: a flat panel shall not lie on a cell's wall
_CELLS = 200  # suspicious cells that are looked at closely


def layers_merged(surface: Surface, split: Split | None = None) -> tuple[Surface, float]:
    """The surface without triangles that lie on a larger piece of it, and their area in mm2.

    A triangle goes where its middle lies within LAYER_MM of a larger piece that faces the same way there,
    not past that piece's rim, and no corner stands off more than LAYER_MM. Judged by the middle, what is
    left over at the seam and what is missing there cancel. Sheets farther apart and sheets that face
    opposite ways stay. A single piece stays as it is: see `check_single`. ``split``: the surface's `pieces`,
    where they are known already.
    """
    piece, area = split or pieces(surface)
    if len(area) < 2:
        return surface, 0.0
    low, high = _boxes(surface)
    drop = np.zeros(len(piece), dtype=bool)
    for k in range(1, len(area)):
        own = np.flatnonzero(piece == k)
        least, most = low[own].min(axis=0) - LAYER_MM, high[own].max(axis=0) + LAYER_MM
        near = np.flatnonzero((piece < k) & (low <= most).all(axis=1) & (high >= least).all(axis=1))
        if len(near):
            drop[own] = _covered(surface, own, Tree(surface, triangles=near))
    if not drop.any():
        return surface, 0.0
    return surface.part(~drop), float(surface.areas[drop].sum())


def _boxes(surface: Surface) -> tuple[Floats, Floats]:
    a, b, c = surface.corners
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


def _covered(surface: Surface, own: Ints, tree: Tree) -> Mask:
    """Which of the triangles ``own`` lie on the surface in ``tree``, (k,)."""
    corners = surface.triangles[own]
    near = tree.nearest(surface.vertices[corners].mean(axis=1))
    covered = (near.distance_mm <= LAYER_MM) & (
        dot(surface.normals[own], surface.normals[near.triangle]) > SAME_WAY
    )
    some = np.flatnonzero(covered)
    rows, back = np.unique(corners[some], return_inverse=True)
    foot = tree.nearest(surface.vertices[rows])
    # Past the rim a corner may be far along the sheet, but must not stand off it.
    off = np.abs(dot(surface.vertices[rows] - foot.point, surface.normals[foot.triangle]))
    covered[some] = (off[back.reshape(-1, 3)] <= LAYER_MM).all(axis=1)
    return covered


def check_single(surface: Surface, name: str) -> None:
    """Raise InputError where a piece covers itself within LAYER_MM over more than TOLD_SHARE of its area.

    Looks at blocks taken at random (of a mesh up to LOOKED triangles at all of it), and there closely only
    where more sheet lies in a column than one sheet can have: the projected area of one sheet in a column
    is at most the column's section. In a large mesh an overlap of a hundredth may escape.
    """
    rows, cell = _sample(surface)
    if cell == 0:
        return
    looked = float(surface.areas[rows].sum())
    rows, key = _crowded(surface, rows, cell)
    if len(rows) == 0:
        return
    cells = np.unique(key)
    chosen = cells[:: max(1, len(cells) // _CELLS)][:_CELLS]
    close = np.isin(key, chosen)
    found = float(surface.areas[_over_another(surface, rows[close], key[close])].sum()) / 2
    share = found * len(cells) / len(chosen) / looked
    if share > TOLD_SHARE:
        raise InputError(
            f"{name}: about {share:.0%} of it or more lies in two layers within {LAYER_MM:g} mm that hang together; "
            "merge the scan's sweeps into one surface first"
        )


def _sample(surface: Surface) -> tuple[Ints, float]:
    """Triangles in blocks of 4 x 4 x 4 cells taken at random, and the cell's side, mm: four triangles long."""
    m = len(surface.triangles)
    few = np.linspace(0, m - 1, min(20_000, m)).astype(np.int64)
    cell = 4 * float(np.sqrt(2 * np.median(surface.areas[few])))
    if cell == 0 or m <= LOOKED:
        return np.arange(m), cell
    mixed = np.zeros(len(surface.vertices), dtype=np.uint64)
    for axis, factor in enumerate((0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9)):
        along = surface.vertices[:, axis]
        block = ((along - along.min()) / (4 * cell) + _SHIFT / 4).astype(np.uint64)
        mixed = (mixed ^ block) * np.uint64(factor)
        mixed ^= mixed >> np.uint64(32)
    taken = (mixed & np.uint64(0xFFFF)) < np.uint64(0x10000 * LOOKED // m)
    return np.flatnonzero(taken[surface.triangles[:, 0]]), cell


def _crowded(surface: Surface, rows: Ints, cell: float) -> tuple[Ints, Ints]:
    """Of the triangles ``rows`` those in columns that hold more than one sheet can, and their columns' keys.

    A column stands along the axis that the triangles face most, four cells high.
    """
    vectors = surface.area_vectors[rows]
    axis = np.abs(vectors).argmax(axis=1)
    facing = vectors[np.arange(len(rows)), axis]
    middle = surface.vertices[surface.triangles[rows]].mean(axis=1) - surface.vertices.min(axis=0)
    place = np.floor(middle / cell + _SHIFT).astype(np.int64)
    place[np.arange(len(rows)), axis] //= 4
    key = place @ np.array([1, 1 << 19, 1 << 38], dtype=np.int64) + (2 * axis + (facing > 0)) * np.int64(1 << 57)
    columns, column = np.unique(key, return_inverse=True)
    # A triangle that is large beside the column says nothing about crowding.
    held = np.bincount(column, np.where(np.abs(facing) < cell * cell / 4, np.abs(facing), 0.0), len(columns))
    crowded = held[column] > 1.5 * cell * cell
    return rows[crowded], key[crowded]


def _over_another(surface: Surface, rows: Ints, key: Ints) -> Ints:
    """Of ``rows`` those whose middle lies over or under another triangle of the same cell, no neighbour."""
    order = np.argsort(key, kind="stable")
    rows, key = rows[order], key[order]
    hit = np.zeros(len(rows), dtype=bool)
    for step in range(1, len(rows)):
        pair = np.flatnonzero(key[step:] == key[:-step])
        if len(pair) == 0:
            break
        hit[pair[_lies_over(surface, rows[pair], rows[pair + step])]] = True
        hit[pair[_lies_over(surface, rows[pair + step], rows[pair])] + step] = True
    over: Ints = rows[hit]
    return over


def _lies_over(surface: Surface, upper: Ints, lower: Ints) -> Ints:
    """Which pairs (their numbers) have the middle of ``upper`` within LAYER_MM over the inside of ``lower``."""
    normal = surface.normals[lower]
    middle = surface.vertices[surface.triangles[upper]].mean(axis=1)
    first, second, third = (surface.vertices[surface.triangles[lower, k]] for k in range(3))
    good = np.abs(dot(middle - first, normal)) <= LAYER_MM
    good &= dot(surface.normals[upper], normal) > SAME_WAY
    pair = np.flatnonzero(good)
    inside = np.ones(len(pair), dtype=bool)
    for a, b in ((first, second), (second, third), (third, first)):
        side = cross(b[pair] - a[pair], middle[pair] - a[pair])
        inside &= dot(side, normal[pair]) > 0
    shared = (surface.triangles[upper[pair]][:, :, None] == surface.triangles[lower[pair]][:, None, :]).any(axis=(1, 2))
    numbers: Ints = pair[inside & ~shared]
    return numbers
