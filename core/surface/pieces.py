"""The connected pieces of a surface, and parting it where it branches or hangs by a point."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy.sparse as sparse
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components

from .surface import Floats, Ints, Mask, Surface, dot

Split = tuple[Ints, Floats]  # the piece of each triangle, the area of each piece


def pieces(surface: Surface) -> Split:
    """The piece of each triangle (m,), and each piece's area in mm2; piece 0 is the largest.

    Triangles that share a point hang together.

    >>> v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [5, 0, 0], [7, 0, 0], [5, 2, 0]])
    >>> two = Surface(v, np.array([[0, 1, 2], [3, 4, 5]]))
    >>> pieces(two)[0].tolist()
    [1, 0]
    >>> pieces(Surface(np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)))[1]
    array([], dtype=float64)
    """
    if len(surface.triangles) == 0:
        return np.empty(0, dtype=np.int64), np.empty(0)
    # Every triangle is a directed ring, so "strongly connected" is the same as connected, and faster.
    _, label = connected_components(surface.half_edges, directed=True, connection="strong")
    label = label[surface.triangles[:, 0]]
    used = np.flatnonzero(np.bincount(label))
    area = np.bincount(label, surface.areas)[used].astype(np.float64)
    order = np.argsort(-area, kind="stable")
    number = np.empty(int(used[-1]) + 1, dtype=np.int64)
    number[used[order]] = np.arange(len(used))
    piece: Ints = number[label]
    return piece, area[order]


def branches_parted(surface: Surface) -> tuple[Surface, int]:
    """The surface parted where more than two triangles meet at an edge, and how many such edges there were.

    The two triangles that go on most smoothly stay together; what branches off gets a rim of its own.
    """
    if surface.half_edges.data.max(initial=0) < 2:
        return surface, 0
    counts = surface.edge_counts.tocoo()
    many = (counts.data > 2) & (counts.row < counts.col)
    if not many.any():
        return surface, 0
    touched = np.zeros(len(surface.vertices), dtype=bool)
    touched[counts.row[many]] = touched[counts.col[many]] = True
    return parted(surface, touched)[0], int(many.sum())


def parted(surface: Surface, touched: Mask) -> tuple[Surface, Ints]:
    """The surface with a vertex of its own for each fan of triangles at the ``touched`` (n,) vertices.

    Also, for each vertex of the new surface, the row that it was. New vertices stand at the end.
    """
    here = np.flatnonzero(touched[surface.triangles].any(axis=1))
    corners = surface.triangles[here]
    first, second = _linked_sides(surface, here, touched)
    links = np.ones(2 * len(first))
    graph = sparse.coo_matrix((links, _linked_corners(corners, first, second)), shape=(corners.size,) * 2)
    _, fan = connected_components(graph, directed=False)
    at_touched = touched[corners.ravel()]
    fans, where = np.unique(fan[at_touched], return_index=True)
    vertex = corners.ravel()[at_touched][where]
    order = np.argsort(vertex, kind="stable")
    again = np.zeros(len(fans), dtype=bool)
    again[order[1:]] = vertex[order[1:]] == vertex[order[:-1]]
    row = vertex.copy()
    row[again] = len(surface.vertices) + np.arange(int(again.sum()))
    flat = corners.ravel().copy()
    flat[at_touched] = row[np.searchsorted(fans, fan[at_touched])]
    triangles = surface.triangles.copy()
    triangles[here] = flat.reshape(-1, 3)
    source = np.concatenate([np.arange(len(surface.vertices)), vertex[again]])
    came = surface.row_of_input if surface.row_of_input is not None else np.arange(len(surface.vertices))
    return replace(surface, vertices=surface.vertices[source], triangles=triangles, row_of_input=came), source


def _linked_sides(surface: Surface, here: Ints, touched: Mask) -> tuple[Ints, Ints]:
    """Pairs of sides (3 x local triangle + slot) that go on from one triangle into the next.

    At an edge of more than two triangles the smoothest pair is taken first, then the next smoothest.
    """
    corners = surface.triangles[here]
    start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    side = np.flatnonzero(touched[start] | touched[end])
    key = np.minimum(start, end)[side] * len(surface.vertices) + np.maximum(start, end)[side]
    order = np.argsort(key, kind="stable")
    side, key = side[order], key[order]
    one, two, edge = _pairs_alike(side, key)
    normals = surface.normals[here]
    bend = dot(normals[one // 3], normals[two // 3])
    bend = np.where(start[one] == start[two], bend, -bend)  # the smaller, the smoother
    order = np.lexsort((bend, edge))
    one, two, edge = one[order], two[order], edge[order]
    taken: list[NDArray[np.int64]] = []
    used = np.zeros(corners.size, dtype=bool)
    left = np.arange(len(one))
    while len(left):
        best = left[np.unique(edge[left], return_index=True)[1]]
        taken.append(best)
        used[one[best]] = used[two[best]] = True
        left = left[~used[one[left]] & ~used[two[left]]]
    chosen = np.concatenate(taken) if taken else np.empty(0, dtype=np.int64)
    return one[chosen], two[chosen]


def _pairs_alike(side: Ints, key: Ints) -> tuple[Ints, Ints, Ints]:
    """All pairs of sides with the same key (sorted), and the key."""
    found = []
    for step in range(1, len(key)):
        pair = np.flatnonzero(key[step:] == key[:-step])
        if len(pair) == 0:
            break
        found.append((side[pair], side[pair + step], key[pair]))
    none = np.empty(0, dtype=np.int64)
    one, two, edge = (np.concatenate([f[k] for f in found] or [none]) for k in range(3))
    return one, two, edge


def _linked_corners(corners: Ints, first: Ints, second: Ints) -> tuple[Ints, Ints]:
    """The pairs of corners that meet at the two ends of the linked sides."""
    flat = corners.ravel()
    first_end, second_end = _next_slot(first), _next_slot(second)
    same_way = flat[first] == flat[second]
    at_start = np.where(same_way, second, second_end)
    at_end = np.where(same_way, second_end, second)
    return np.concatenate([first, first_end]), np.concatenate([at_start, at_end])


def _next_slot(corner: Ints) -> Ints:
    return np.where(corner % 3 == 2, corner - 2, corner + 1)
