"""How long the outline of an area is, and whether it reaches the panel's edge."""

from __future__ import annotations

import numpy as np

from ..surface.border import border
from ..surface.surface import Floats, Ints, Mask, Surface, dot

_EVENINGS = 8  # even out a tooth of one edge; a curve of a few edges' radius keeps its length to a few per cent


def outline(panel: Surface, of_triangle: Ints, k: int) -> tuple[Floats, Mask]:
    """Of the parts that ``of_triangle`` (m,) numbers: the length of each one's outline, (k,) mm, and whether it runs
    along the panel's own rim, (k,)."""
    perimeter, rim = np.zeros(k), np.zeros(k, dtype=bool)
    rows = np.flatnonzero(of_triangle)
    start, end, row = border(panel.triangles[rows], of_triangle[rows])
    owner = of_triangle[rows][row]
    np.add.at(perimeter, owner, _evened(panel.vertices, start, end, owner))
    rim[owner[panel.on_rim[start] & panel.on_rim[end]]] = True
    return perimeter, rim


def _evened(vertices: Floats, start: Ints, end: Ints, owner: Ints) -> Floats:
    """Lengths of outline sides (s,), mm, with the saw-tooth evened out that triangles' sides make of a curve.

    Each outline point moves to the mean of itself and its neighbours on the outline, again and again.
    """
    n = len(vertices)
    node, both = np.unique(np.concatenate([owner * n + start, owner * n + end]), return_inverse=True)
    here, there = both.reshape(2, -1)
    place, count = vertices[node % n], np.bincount(both.ravel(), minlength=len(node))
    for _ in range(_EVENINGS):
        around = [np.bincount(here, place[there, k], len(node)) + np.bincount(there, place[here, k], len(node))
                  for k in range(3)]
        place = 0.5 * place + 0.5 * np.stack(around, axis=1) / count[:, None]
    step = place[here] - place[there]
    length: Floats = np.sqrt(dot(step, step))
    return length
