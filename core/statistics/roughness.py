"""What is left of heights over a panel, or of any values on it, once all that varies slowly is taken away.

A scan compared with itself shows no noise. The metal's own roughness does: what a smooth patch over a hand's breadth
leaves over is the scanner's and the metal's, for panels are pressed smooth.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Ints, Mask, Surface

# Smaller blocks would take smooth noise for shape (of noise over 8 mm a tenth is lost, over 15 mm a quarter), larger
# ones the shape for noise (of a sphere of 300 mm 0.01 mm is left): measured on such panels for this project. The small
# ones are for panels with swages all over, which leave many times as much in large ones.
_BLOCKS_MM, _MANY_TIMES = (180.0, 90.0), 4.0
_DEGREE = 4
_LEAST_POINTS, _MOST_POINTS = 45, 200_000  # three for each term; enough for any spread
_STEEPEST = 0.5
_ROUNDING_MM = 1e-9
_QUARTER, _ALIKE = 0.25, 1.5  # the same noise is hardly half as large again in one block as in another


@dataclass(frozen=True, eq=False)
class Roughness:
    """``left_mm`` (n,): what the patches left, nan where they tell nothing; ``block_mm``: how wide they were."""

    left_mm: Floats
    block_mm: float


def roughness(panel: Surface, used: Mask, values_mm: Floats | None = None) -> Roughness:
    """What smooth patches over blocks leave of ``values_mm`` (n,), or of the panel's own height along its normals where
    there are none; nan where not ``used`` (n,), where a block holds too little, and in blocks that leave more than the
    smoothest quarter do: there is a swage, an edge or damage in them, and no more noise.

    Polynomials of degree 4 block by block, over the axis that the metal there faces most.
    """
    large, small = (_in_blocks(panel, used, values_mm, side) for side in _BLOCKS_MM)
    left, of_large, of_small = large[0], large[1], small[1]
    many = 0 < _MANY_TIMES * of_small < of_large
    return Roughness(small[0] if many else left, _BLOCKS_MM[int(many)])


def _in_blocks(panel: Surface, used: Mask, values_mm: Floats | None, side_mm: float) -> tuple[Floats, float]:
    """What the blocks ``side_mm`` wide leave, (n,), and how much the smoothest quarter of them does."""
    facing = np.abs(panel.vertex_normals)
    axis = facing.argmax(axis=1)
    block = _blocks(panel, axis, side_mm)
    rows = np.flatnonzero(used & (facing.max(axis=1) > _STEEPEST))
    rows = rows[np.argsort(block[rows], kind="stable")]
    left, pieces, taken = np.full(len(used), np.nan), list[Ints](), 0
    for piece in _spread(np.split(rows, np.flatnonzero(np.diff(block[rows])) + 1)):
        if len(piece) < _LEAST_POINTS:
            continue
        if taken > _MOST_POINTS:
            break
        k, taken = int(axis[piece[0]]), taken + len(piece)
        places = np.delete(panel.vertices[piece], k, axis=1)
        if values_mm is None:
            left[piece] = _left(places, panel.vertices[piece, k]) * facing[piece, k]
        else:
            left[piece] = _left(places, values_mm[piece])
        pieces.append(piece)
    sizes = [float(np.sqrt(np.mean(left[piece] ** 2))) for piece in pieces]
    smooth = _smoothest(sizes, [len(piece) for piece in pieces])
    for size, piece in zip(sizes, pieces, strict=True):
        if size > max(_ALIKE * smooth, _ROUNDING_MM):
            left[piece] = np.nan
    return left, smooth


def _smoothest(sizes: list[float], counts: list[int]) -> float:
    """The size that a quarter of all points does not lie above, block by block; 0 where there are none.

    >>> _smoothest([3.0, 1.0, 2.0], [10, 10, 10])
    1.0
    """
    order = np.argsort(sizes)
    share = np.cumsum(np.array(counts)[order]) if len(sizes) else np.zeros(0)
    return float(np.array(sizes)[order][np.searchsorted(share, _QUARTER * share[-1])]) if len(sizes) else 0.0


def _blocks(panel: Surface, axis: Ints, side_mm: float) -> Ints:
    """Number of the cube, ``side_mm`` wide, that each vertex is in, cubes apart by the ``axis`` (n,) and the side that
    it faces, (n,)."""
    low, high = panel.box
    many = ((high - low) / side_mm).astype(np.int64) + 1
    cube = ((panel.vertices - low) / side_mm).astype(np.int64)
    side = panel.vertex_normals[np.arange(len(axis)), axis] > 0
    block: Ints = (((cube[:, 0] * many[1] + cube[:, 1]) * many[2] + cube[:, 2]) * 3 + axis) * 2 + side
    return block


def _spread(pieces: list[Ints]) -> list[Ints]:
    """The pieces in an order that goes all over the panel, however early it is stopped."""
    return [pieces[k] for k in np.random.default_rng(0).permutation(len(pieces))]


def _left(places: Floats, values: Floats) -> Floats:
    middle, half = places.mean(axis=0), np.maximum(np.ptp(places, axis=0) / 2, 1e-9)
    u, v = ((places - middle) / half).T
    terms = np.stack([u**i * v**j for i in range(_DEGREE + 1) for j in range(_DEGREE + 1 - i)], axis=1)
    left: Floats = values - terms @ np.linalg.lstsq(terms, values, rcond=None)[0]
    left *= np.sqrt(len(values) / (len(values) - terms.shape[1]))  # the terms took their share of it
    return left
