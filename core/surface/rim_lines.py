"""The rims and holes of a surface as lines in space, to be found from a point near by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .features import Loop, rims
from .nearest import LineTree
from .surface import Floats, Ints, Surface, cross, normalised


@dataclass(frozen=True, eq=False)
class RimLines:
    """The ``loops`` of a surface's free edges, and their points one loop after the other: ``points`` (k, 3) mm,
    ``stands_mm`` (k,): the length of rim that each stands for, its
    raggedness cut off, ``across`` (k, 3): unit, along the sheet and out over
    its rim, ``loop`` (k,): which of the loops it is on; ``tree`` over the edges, each counted by its first point."""

    loops: tuple[Loop, ...]
    points: Floats
    stands_mm: Floats
    across: Floats
    loop: Ints
    tree: LineTree


def rim_lines(surface: Surface) -> RimLines:
    """The rims and holes of ``surface``; nothing in any of the arrays where it is closed.

    >>> sheet = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 0]]), np.array([[0, 1, 2], [1, 3, 2]]))
    >>> found = rim_lines(sheet)
    >>> found.stands_mm, found.across[np.argmin(found.points.sum(axis=1))].round(3)
    (array([1.41421356, 1.41421356, 1.41421356, 1.41421356]), array([-0.707, -0.707,  0.   ]))
    >>> len(rim_lines(Surface(sheet.vertices, np.array([[0, 1, 2], [2, 1, 0]]))).points)
    0
    """
    loops = rims(surface)
    counts = [len(loop.vertices) for loop in loops]
    rows = np.concatenate([loop.vertices for loop in loops]) if loops else np.empty(0, dtype=np.int64)
    loop = np.repeat(np.arange(len(loops)), counts)
    first = np.cumsum([0, *counts], dtype=np.int64)[loop]
    place = np.arange(len(rows)) - first
    size = np.asarray(counts, dtype=np.int64)[loop] if loops else place
    after, before = first + (place + 1) % np.maximum(size, 1), first + (place - 1) % np.maximum(size, 1)
    points = surface.vertices[rows]
    ahead, behind = points[after] - points, points - points[before]
    stands = 0.5 * np.linalg.norm(ahead + behind, axis=1)  # a ragged rim's zigzag is no longer rim
    # The surface lies to the left of its rim, so across it is to the right.
    across = normalised(cross(normalised(ahead) + normalised(behind), surface.vertex_normals[rows]))
    pieces = np.stack([np.arange(len(rows)), after], axis=1)
    return RimLines(loops, points, stands, across, loop, LineTree(points, pieces))
