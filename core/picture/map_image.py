"""The fill map as pixels: from a picture of depths to a picture in the legend's colours.

Depths are told by pixel, not by vertex, so that steps end where they end and have the legend's very colours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..legend.drawing import DOT, HATCH
from ..legend.legend import Colour, Legend, step_of
from ..map.relief import relief

Floats = NDArray[np.float32]
Pixels = NDArray[np.uint8]

PAPER: Colour = (252, 252, 250)
RIM: Colour = (96, 99, 104)
GRAPHITE: Colour = (72, 74, 79)  # chalk is white, and so is true metal on paper: what is chalked is drawn in pencil
RANGE_MM = 50.0  # depth that stands for a full channel; deeper is shown as this deep


@dataclass(frozen=True)
class Seen:
    """What is seen at each pixel (rows, columns): signed ``depth_mm``, nan where not judged; ``light`` 0 to 1 on the
    metal; ``metal``: whether there is any."""

    depth_mm: Floats
    light: Floats
    metal: NDArray[np.bool_]


def packed(depth_mm: NDArray[np.float64], light: NDArray[np.float64]) -> Floats:
    """Depths (n,) and light (n,) as colours (n, 4) that may be drawn and interpolated: low, high, light, 1.

    Low and high both full stand for "not judged".

    >>> packed(np.array([25.0, -5.0, np.nan]), np.array([1.0, 0.5, 0.0])).tolist()
    [[0.5, 0.0, 1.0, 1.0], [0.0, 0.10000000149011612, 0.5, 1.0], [1.0, 1.0, 0.0, 1.0]]
    """
    share = np.asarray(depth_mm, dtype=np.float64) / RANGE_MM
    unknown = ~np.isfinite(share)
    most = 0.999  # full is kept for "not judged"
    low = np.where(unknown, 1.0, np.clip(share, 0.0, most))
    high = np.where(unknown, 1.0, np.clip(-share, 0.0, most))
    colours: Floats = np.column_stack([low, high, np.clip(light, 0.0, 1.0), np.ones(len(share))]).astype(np.float32)
    return colours


def seen(colours: Floats) -> Seen:
    """What a picture (rows, columns, 4) drawn with `packed` colours shows; alpha 0 where there is no metal."""
    low, high, light, alpha = np.moveaxis(colours, -1, 0)
    depth = np.where(np.minimum(low, high) > 0.5, np.nan, (low - high) * np.float32(RANGE_MM))
    return Seen(depth.astype(np.float32), light, alpha > 0.5)


def by_corner(depth_mm: NDArray[np.float64], vertex: NDArray[np.int64], corners: NDArray[np.int64],
              ) -> NDArray[np.float64]:
    """Depths (n,) of vertices for the corners of faces, (c,): nan all over a face that has a vertex not judged.

    ``vertex`` (c,) is each corner's, ``corners`` (f,) how many each face has, in order.

    >>> by_corner(np.array([1.0, 2.0, 3.0, np.nan]), np.array([0, 1, 2, 0, 2, 3]), np.array([3, 3])).tolist()
    [1.0, 2.0, 3.0, nan, nan, nan]
    """
    depth = np.asarray(depth_mm, dtype=np.float64)[vertex]
    face = np.repeat(np.arange(len(corners)), corners)
    unknown = np.bincount(face, ~np.isfinite(depth), len(corners)) > 0
    return np.where(unknown[face], np.nan, depth)


def coloured(
    view: Seen, key: Legend, hatch: bool, grain: int, fine: int, cover: Floats | None = None
) -> Pixels:
    """The map (rows // fine, columns // fine, 3) on paper: ``fine`` by ``fine`` pixels of ``view`` make one.

    ``grain`` is the distance between stripes or dots, in pixels of the result. Where ``cover`` (rows // fine,
    columns // fine) is given, 0 to 1, there is writing on the map, and stripes keep off it.
    """
    palette = np.array([step.colour for step in key.steps], dtype=np.float32)
    step = step_of(view.depth_mm.ravel(), key).reshape(view.depth_mm.shape)
    image = palette[step]
    marked = grain * fine
    if hatch:
        deep = np.isin(step, [k for k, s in enumerate(key.steps) if s.hatch])
        if cover is not None:
            near = grown(cover > 0.3, max(1, grain // 3))
            deep[: fine * len(near), : fine * near.shape[1]] &= ~near.repeat(fine, axis=0).repeat(fine, axis=1)
        _stripe(image, deep, marked)
    _dot(image, step == len(key.steps) - 1, marked)
    true = step == key.true_step
    image[true] *= relief(view.light[true], view.light[true & view.metal])[:, None]
    image[~view.metal] = PAPER
    image[_rim(view.metal, max(1, round(grain * fine / 10)))] = RIM
    rows, columns = (size // fine for size in step.shape)
    blocks = image[: rows * fine, : columns * fine].reshape(rows, fine, columns, fine, 3)
    small: Pixels = np.rint(blocks.mean(axis=(1, 3))).astype(np.uint8)
    return small


def over(below: Pixels, above: Floats) -> Pixels:
    """``below`` (rows, columns, 3) with ``above`` (rows, columns, 4), colour and alpha 0 to 1, laid over it."""
    alpha = above[..., 3:]
    mixed: Pixels = np.rint(below * (1 - alpha) + 255 * above[..., :3] * alpha).clip(0, 255).astype(np.uint8)
    return mixed


def smaller(drawn: Floats, fine: int) -> Floats:
    """A picture (rows, columns, 4), colour and alpha, with ``fine`` by ``fine`` pixels made one by their cover.

    >>> smaller(np.array([[[1.0, 0, 0, 1.0], [0.0, 0, 0, 0.0]]] * 2, dtype=np.float32), 2).tolist()
    [[[1.0, 0.0, 0.0, 0.5]]]
    """
    rows, columns, _ = drawn.shape
    blocks = drawn.reshape(rows // fine, fine, columns // fine, fine, 4)
    cover = blocks[..., 3:]
    alpha = cover.mean(axis=(1, 3))
    colour = (blocks[..., :3] * cover).mean(axis=(1, 3)) / np.maximum(alpha, 1e-6)
    made: Floats = np.concatenate([colour, alpha], axis=-1).astype(np.float32)
    return made


def inked(image: Pixels, cover: Floats, ink: Colour) -> Pixels:
    """``image`` (rows, columns, 3) with ``ink`` over the share ``cover`` (rows, columns), 0 to 1, of each pixel."""
    alpha = np.clip(cover, 0, 1)[..., None]
    drawn: Pixels = np.rint(image * (1 - alpha) + np.array(ink, dtype=np.float32) * alpha).astype(np.uint8)
    return drawn


def textured(image: Pixels, key: Legend, hatch: bool, grain: int) -> None:
    """Stripes and dots over every pixel of ``image`` that has a hatched or dotted step's colour, in place.

    To within 2 of 255, since what draws the legend may round.
    """
    for step in key.steps:
        where = (np.abs(image.astype(np.int16) - np.array(step.colour, dtype=np.int16)) <= 2).all(axis=-1)
        if step.hatch and hatch:
            _stripe(image, where, grain)
        if step.dots:
            _dot(image, where, grain)


def _stripe(image: Floats | Pixels, where: NDArray[np.bool_], grain: int) -> None:
    row, column = np.nonzero(where)
    on = (row + column) % round(1.414 * grain) < 0.3 * grain
    image[row[on], column[on]] = HATCH


def _dot(image: Floats | Pixels, where: NDArray[np.bool_], grain: int) -> None:
    row, column = np.nonzero(where)
    pitch = max(2, round(0.7 * grain))
    off = (row % pitch - pitch / 2) ** 2 + (column % pitch - pitch / 2) ** 2
    on = off < (0.22 * pitch) ** 2
    image[row[on], column[on]] = DOT


def grown(where: NDArray[np.bool_], width: int) -> NDArray[np.bool_]:
    """``where`` and every pixel within ``width`` steps beside, above or below it.

    >>> grown(np.array([[False, False, True]]), 1).tolist()
    [[False, True, True]]
    """
    found = where.copy()
    for _ in range(width):
        ring = found.copy()
        ring[1:] |= found[:-1]
        ring[:-1] |= found[1:]
        ring[:, 1:] |= found[:, :-1]
        ring[:, :-1] |= found[:, 1:]
        found = ring
    return found


def _rim(metal: NDArray[np.bool_], width: int) -> NDArray[np.bool_]:
    """Pixels of metal that have none within ``width`` beside them: its outline and its holes'."""
    return metal & grown(~metal, width)
