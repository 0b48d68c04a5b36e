"""Rims and holes of a surface, with a fitted circle where a hole is round."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from .chains import chains, followers
from .pieces import Split, parted, pieces
from .surface import Floats, Ints, Surface, cross, normalised

LEAST_POINTS = 8  # fewer points say nothing about roundness: a square's four corners lie on a circle
ROUND_SHARE = 0.02  # greatest misfit of a circle, as a share of its diameter (a hexagon's is 0.025) ...
RAGGED_SHARE = 0.05  # ... or, on a ragged rim, a third of its mean edge up to this share (a square's is 0.055)
RAGGED_LENGTH = 1.06  # a hexagon is 1.05 times as long as the circle fitted to it
RING_LENGTH = (0.95, 1.3)  # the loop's length over that of its circle; a staircase around a circle is 4/pi


@dataclass(frozen=True, eq=False)
class Circle:
    """A circle in space: centre (3,) in the surface's frame, unit normal (3,) to the surface's outside, mm.

    ``misfit_mm`` is the root mean square distance of the loop's points from it.
    """

    centre: Floats
    normal: Floats
    diameter_mm: float
    misfit_mm: float


@dataclass(frozen=True, eq=False)
class Loop:
    """One closed line of free edges: its points in order, the surface on the left seen from outside.

    ``kind`` is "rim" for the longest loop of its piece, "hole" for the others; ``piece`` counts from
    the largest piece, 0. ``circle`` is None where the loop isn't round.
    """

    kind: str
    piece: int
    length_mm: float
    vertices: Ints
    circle: Circle | None


def rims(surface: Surface, split: Split | None = None) -> tuple[Loop, ...]:
    """All loops of free edges, each piece's rim before its holes, longer ones first; () if closed.

    A loop that touches another, or itself, at one point is followed around the triangles there, so the
    two stay apart. Windings should be consistent (see `condition.mend`); if not, it still gives loops.
    ``split``: the surface's `pieces`, where they are known already.

    >>> sheet = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 0]]), np.array([[0, 1, 2], [1, 3, 2]]))
    >>> [(loop.kind, loop.length_mm, loop.circle) for loop in rims(sheet)]
    [('rim', 8.0, None)]
    >>> rims(Surface(sheet.vertices, np.array([[0, 1, 2], [2, 1, 0]])))
    ()
    """
    start, end = _free_edges(surface)
    if len(start) == 0:
        return ()
    source = np.arange(len(surface.vertices))
    leaving = np.bincount(start, minlength=len(source))
    whole = surface
    if leaving.max() > 1:
        surface, source = parted(surface, leaving > 1)
        start, end = _free_edges(surface)
    ring, order, first = _simple_rings(start, end, source)
    lengths = np.linalg.norm(surface.vertices[end] - surface.vertices[start], axis=1)
    length = np.bincount(ring, lengths)
    place = np.zeros(len(source), dtype=np.int64)
    piece, _ = split or pieces(whole)
    place[whole.triangles] = piece[:, None]
    loop_piece = place[source[start[order[first]]]]
    rows = np.split(source[start[order]], first[1:])
    found = []
    last = -1
    for k in np.lexsort((-length, loop_piece)):
        kind = "hole" if loop_piece[k] == last else "rim"
        last = loop_piece[k]
        circle = circle_of(whole.vertices[rows[k]], inside_out=kind == "hole")
        found.append(Loop(kind, int(last), float(length[k]), rows[k], circle))
    return tuple(found)


def circle_of(points: Floats, inside_out: bool = False) -> Circle | None:
    """The circle through a closed loop of points (k, 3) mm, or None where it isn't round.

    Round: at least LEAST_POINTS points; misfit at most ROUND_SHARE of the diameter, or a third of the mean
    edge (a scan's ragged rim, known by its length above RAGGED_LENGTH of the circle's) but then at most
    RAGGED_SHARE; length within RING_LENGTH of the circle's.
    The normal follows the loop by the right hand, or against it with ``inside_out``.
    Source: algebraic least squares, Kasa 1976, doi:10.1109/TIM.1976.6312298, in the plane of least squares.

    >>> turn = np.linspace(0, 2 * np.pi, 12, endpoint=False)
    >>> bolt = circle_of(np.stack([4 * np.cos(turn), 4 * np.sin(turn), 0 * turn], axis=1))
    >>> round(bolt.diameter_mm, 9), bolt.normal.round(9).tolist()
    (8.0, [0.0, 0.0, 1.0])
    >>> circle_of(np.zeros((12, 3))) is None
    True
    """
    if len(points) < LEAST_POINTS:
        return None
    middle = points.mean(axis=0)
    local = points - middle
    _, spread, axes = np.linalg.svd(local, full_matrices=False)
    if spread[1] <= 1e-9 * spread[0] or spread[0] == 0:
        return None
    x, y, height = (local @ axes.T).T
    (a, b, c), *_ = np.linalg.lstsq(np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1), x * x + y * y, rcond=None)
    radius = float(np.sqrt(c + a * a + b * b))
    misfit = float(np.sqrt(np.mean((np.hypot(x - a, y - b) - radius) ** 2 + height**2)))
    edges = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    stretch = edges.sum() / (2 * np.pi * radius)
    ragged = min(edges.mean() / 3, RAGGED_SHARE * 2 * radius) if stretch > RAGGED_LENGTH else 0.0
    if misfit > max(ROUND_SHARE * 2 * radius, ragged) or not RING_LENGTH[0] <= stretch <= RING_LENGTH[1]:
        return None
    turn = cross(local, np.roll(local, -1, axis=0)).sum(axis=0)
    normal = axes[2] * np.sign(axes[2] @ turn) * (-1.0 if inside_out else 1.0)
    return Circle(middle + a * axes[0] + b * axes[1], normalised(normal[None])[0], 2 * radius, misfit)


def _free_edges(surface: Surface) -> tuple[Ints, Ints]:
    """Start and end rows of the edges that belong to one triangle only."""
    half = surface.half_edges
    back = half.T.tocsr()
    free = (half - back).tocoo()
    lone = free.data == 1
    start, end = free.row[lone].astype(np.int64), free.col[lone].astype(np.int64)
    if half.data.max() > 1:  # inconsistent windings or branches: only edges with one triangle in all
        count = np.asarray(surface.edge_counts[start, end]).ravel()
        start, end = start[count == 1], end[count == 1]
    return start, end


def _simple_rings(start: Ints, end: Ints, source: Ints) -> tuple[Ints, Ints, Ints]:
    """The ring of each edge, the edges in order ring by ring, and where each ring starts in that order.

    A ring that comes by one point twice (two holes that touch) is made two.
    """
    after = _followers(start, end)
    point = source[start]
    while True:
        found = chains(after)
        ring, order = found.chain, found.order
        place = np.empty(len(order), dtype=np.int64)
        place[order] = np.arange(len(order))
        by_point = np.lexsort((place, point, ring))
        one, two = by_point[:-1], by_point[1:]
        twice = (point[one] == point[two]) & (ring[one] == ring[two])
        if not twice.any():
            return ring, order, found.first
        one, two = _apart(one[twice], two[twice], place)
        before = np.empty(len(after), dtype=np.int64)
        before[after] = np.arange(len(after))
        after[before[one]], after[before[two]] = two, one


def _apart(one: Ints, two: Ints, place: Ints) -> tuple[Ints, Ints]:
    """Of the stretches from edge ``one`` to edge ``two`` some that hold no other and do not overlap."""
    order = np.argsort(place[two])
    one, two = one[order], two[order]
    latest = np.maximum.accumulate(place[one])
    inner = np.concatenate([[True], place[one[1:]] > latest[:-1]])
    one, two = one[inner], two[inner]
    clear = np.concatenate([[True], place[one[1:]] > place[two[:-1]]])
    return one[clear], two[clear]


def _followers(start: Ints, end: Ints) -> Ints:
    """For each edge the edge that goes on from its end; each edge follows exactly one."""
    after = followers(start, end)
    ends = np.flatnonzero(after < 0)
    if len(ends):  # a line that ends: close it within its own connected line
        starts = np.setdiff1d(np.arange(len(after)), after)
        line = _line(start, end)
        after[ends[np.argsort(line[ends], kind="stable")]] = starts[np.argsort(line[starts], kind="stable")]
    return after


def _line(start: Ints, end: Ints) -> Ints:
    """The connected line that each edge belongs to."""
    n = int(max(start.max(), end.max())) + 1
    graph = sparse.coo_matrix((np.ones(len(start)), (start, end)), shape=(n, n))
    label: Ints = connected_components(graph, directed=False)[1][start]
    return label
