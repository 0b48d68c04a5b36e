"""Which side is out: windings made consistent within a panel, and then turned to the finished shape's side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from .nearest import Tree
from .parity import two_states
from .pieces import pieces
from .surface import Floats, Ints, Mask, Surface, dot

REACH_MM = 20.0  # a triangle farther from the target has no vote
VOTERS = 20_000  # places asked on the whole panel, about nine in each cell of the smallest size
_FEWEST = 500  # of a small piece
SOLID_SHARE = 0.1  # what a body's area vectors add up to, of its area: a hole or two may be in it
COVERED_SHARE = 0.5  # a piece over more than this share of claimed target lies behind another


def consistent(surface: Surface, name: str) -> tuple[Surface, int]:
    """The surface with neighbours wound alike, and how many triangles were turned over for it.

    In each part that hangs together by its edges the side with more area stays. Edges of more than two
    triangles do not count as joints. Raises InputError where a part has one side only.

    >>> v = np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [3, 3, 0]])
    >>> mended, count = consistent(Surface(v, np.array([[0, 1, 2], [1, 2, 3]])), "panel")
    >>> count, mended.triangles.tolist()
    (1, [[2, 1, 0], [1, 2, 3]])
    """
    if surface.half_edges.data.max(initial=0) < 2:
        return surface, 0
    first, second, agree = joints(surface)
    m = len(surface.triangles)
    as_is, over = two_states(first, second, agree, m)
    if (as_is == over).any():
        raise InputError(
            f"{name}: part of it has one side only, like a Moebius band, so its outside can't be told; "
            "cut it open where it is twisted"
        )
    stays = np.bincount(as_is, surface.areas, minlength=2 * m)
    turn = (stays[as_is] < stays[over]) | ((stays[as_is] == stays[over]) & (as_is > over))
    return (surface.turned(turn), int(turn.sum())) if turn.any() else (surface, 0)


def joints(surface: Surface) -> tuple[Ints, Ints, Mask]:
    """Pairs of triangles that share an edge with no third, and whether they are wound alike."""
    start, end = surface.triangles.ravel(), np.roll(surface.triangles, -1, axis=1).ravel()
    key = np.minimum(start, end) * len(surface.vertices) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key = key[order]
    same = np.concatenate([[False], key[1:] == key[:-1], [False]])
    pair = np.flatnonzero(same[1:-1] & ~same[:-2] & ~same[2:])
    one, two = order[pair], order[pair + 1]
    return one // 3, two // 3, start[one] != start[two]


def closed_outward(surface: Surface) -> tuple[Surface, bool]:
    """A closed surface (without rims) that encloses a negative volume turned over, and whether it was.

    >>> v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1]])
    >>> closed_outward(Surface(v, np.array([[0, 1, 2], [0, 3, 1], [1, 3, 2], [0, 2, 3]])))[1]
    True
    """
    if float(dot(surface.corners[0], surface.area_vectors).sum()) >= 0:
        return surface, False
    return surface.turned(np.ones(len(surface.triangles), dtype=bool)), True


@dataclass(frozen=True, eq=False)
class _Vote:
    """How a piece lies to the target: far (median, mm), area for less against (mm2), cells it covers."""

    piece: int
    distance_mm: float
    agree_mm2: float
    cells: Ints


def is_solid(surface: Surface) -> bool:
    """Whether the surface has two sides: a closed body, or a sheet with another behind it.

    The area vectors of a closed surface add up to nothing, those of a sheet to most of its area.
    """
    total = surface.area_vectors.sum(axis=0)
    return float(np.linalg.norm(total)) < SOLID_SHARE * surface.area


def turn_to_target(
    panel: Surface, target: Surface, tree_of_target: Tree, sure: Mask | None = None
) -> tuple[Surface, tuple[str, ...]]:
    """The panel with each piece turned to the target's side, and plain sentences on what was turned.

    A piece turns where most of its area within REACH_MM faces against the nearest target triangle.
    Pieces are taken from the nearest to the target outward, and each claims the part of the target that
    it covers. A piece behind another (more than COVERED_SHARE of its part is claimed) is an inner skin:
    it stays facing away, or is turned away, so that no part of the job is counted twice; against a solid target,
    whose other side it would meet there, it is left out. Panel and target may have different origins. A piece with
    nothing within reach stays as it is, and so does one with a triangle whose outside is ``sure`` (m,).
    """
    piece, area = pieces(panel)
    cell = max(4 * panel.mean_edge, 3 * float(np.sqrt(panel.area / VOTERS)))
    rng = np.random.default_rng(0)
    votes = [_vote(_Voters.on(panel, np.flatnonzero(piece == k), rng), k, tree_of_target, target, cell)
             for k in range(len(area))]
    turn = np.zeros(len(area), dtype=bool)
    behind = np.zeros(len(area), dtype=bool)
    claimed = np.empty(0, dtype=np.int64)
    for vote in sorted((v for v in votes if v is not None), key=lambda v: v.distance_mm):
        k = vote.piece
        behind[k] = bool(np.isin(vote.cells, claimed).mean() > COVERED_SHARE)
        turn[k] = vote.agree_mm2 > 0 if behind[k] else vote.agree_mm2 < 0
        if not behind[k]:
            claimed = np.union1d(claimed, vote.cells)
    if sure is not None:
        turn[piece[sure]] = False
    left_out = behind if is_solid(target) else np.zeros_like(behind)
    if not (turn | left_out).any():
        return panel, ()
    judged = np.array([vote is not None for vote in votes]) & ~behind
    turned = panel.turned(turn[piece])
    return turned.part(~left_out[piece]) if left_out.any() else turned, _notes(area, turn, behind, judged, left_out)


@dataclass(frozen=True, eq=False)
class _Voters:
    """Places on a piece, each for as much of it: ``points`` (k, 3) mm from the true origin, ``vectors`` (k, 3) mm2."""

    points: Floats
    vectors: Floats

    @classmethod
    def on(cls, panel: Surface, rows: Ints, rng: np.random.Generator) -> _Voters:
        """Places at random by area: neither the order nor the size of triangles has a say in where they lie.

        Uniform in a triangle by the root of one number (Turk 1990, Graphics Gems, from memory).
        """
        area = np.cumsum(panel.areas[rows])
        count = max(_FEWEST, int(np.ceil(VOTERS * area[-1] / panel.area)))
        asked = rows[np.minimum(np.searchsorted(area, rng.uniform(0, area[-1], count)), len(rows) - 1)]
        root, share = np.sqrt(rng.random((count, 1))), rng.random((count, 1))
        a, b, c = (panel.vertices[panel.triangles[asked, k]] for k in range(3))
        points = (1 - root) * a + root * (1 - share) * b + root * share * c
        return cls(points + panel.origin, panel.normals[asked] * (area[-1] / count))


def _vote(voters: _Voters, piece: int, tree: Tree, target: Surface, cell: float) -> _Vote | None:
    near = tree.nearest(voters.points - target.origin)
    within = near.distance_mm <= REACH_MM
    if not within.any():
        return None
    sides = dot(voters.vectors[within], target.normals[near.triangle[within]])
    place = np.floor(near.point[within] / cell).astype(np.int64)
    cells = np.unique(place @ np.array([1, 1 << 21, 1 << 42], dtype=np.int64))
    return _Vote(piece, float(np.median(near.distance_mm[within])), float(sides.sum()), cells)


def _notes(area: Floats, turn: Mask, behind: Mask, judged: Mask, left_out: Mask) -> tuple[str, ...]:
    notes = []
    front = turn & ~behind
    if front.any() and (front == judged).all():
        notes.append(
            "the panel faces the other way from the finished shape all over and was turned to match; "
            "if low and high look swapped, turn the finished shape's faces over"
        )
    elif front.any():
        notes.append(f"{_count(front)} of the panel ({_cm2(area[front])}) turned over to match the finished shape")
    if left_out.any():
        notes.append(
            f"{_count(left_out)} of the panel ({_cm2(area[left_out])}) lying behind another over the same part of the "
            "finished shape, taken for an inner skin and left out, so that nothing is counted twice"
        )
    elif (turn & behind).any():
        notes.append(
            f"{_count(turn & behind)} of the panel ({_cm2(area[turn & behind])}) lying behind another over the same "
            "part of the finished shape, taken for an inner skin and turned away, so that nothing is counted twice"
        )
    return tuple(notes)


def _count(which: Mask) -> str:
    count = int(which.sum())
    return "1 piece" if count == 1 else f"{count} pieces"


def _cm2(area: Floats) -> str:
    return f"{area.sum() / 100:.1f} cm²"
