"""Short pieces of line put in order: which follows which, and the chains that they make. Needs numpy only."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Chains:
    """Pieces in chains: ``chain`` of each piece (s,), counted in the order of the chains' earliest pieces; ``order``
    (s,): the pieces chain by chain, each from its beginning (a ring from its earliest piece); ``first`` (c,): where
    each chain starts in that order; ``closed`` (c,): whether it is a ring."""

    chain: Ints
    order: Ints
    first: Ints
    closed: Mask


def followers(start: Ints, end: Ints) -> Ints:
    """For each piece from point ``start`` to point ``end`` (s,) the piece that goes on from its end, or -1.

    No piece follows two. Where several meet at a point the first that comes goes on as the first that leaves.

    >>> followers(np.array([0, 1, 5]), np.array([1, 2, 6]))
    array([ 1, -1, -1])
    >>> followers(np.array([], dtype=int), np.array([], dtype=int))
    array([], dtype=int64)
    """
    count = len(start)
    after = np.full(count, -1, dtype=np.int64)
    if count == 0:
        return after
    incoming, outgoing = np.argsort(end, kind="stable"), np.argsort(start, kind="stable")
    here = end[incoming] * np.int64(count) + _count_up(end[incoming])
    there = start[outgoing] * np.int64(count) + _count_up(start[outgoing])
    place = np.minimum(np.searchsorted(there, here), count - 1)
    met = there[place] == here
    after[incoming[met]] = outgoing[place[met]]
    return after


def chains(after: Ints) -> Chains:
    """The chains of pieces where ``after`` (s,) names the piece that follows each, or -1 at a chain's end.

    No piece may follow two. Source: list ranking by pointer jumping, Wyllie 1979, "The complexity of parallel
    computations", Cornell TR 79-387.

    >>> found = chains(np.array([2, -1, 1, 4, 3]))
    >>> found.order, found.first, found.closed
    (array([0, 2, 1, 3, 4]), array([0, 3]), array([False,  True]))
    >>> chains(np.array([], dtype=int)).order
    array([], dtype=int64)
    """
    rows = np.arange(len(after))
    jump, least = np.where(after < 0, rows, after), rows.copy()
    for _ in range(_rounds(after)):
        least = np.minimum(least, least[jump])
        jump = jump[jump]
    ring = after[jump] >= 0  # pieces of an open chain have all come to its end, which nothing follows
    last = np.where(ring, -1, jump)
    last[ring] = _before(after)[least[ring]]  # a ring is opened before its earliest piece
    steps = np.where(rows == last, 0, 1)
    jump = np.where(rows == last, rows, after)
    for _ in range(_rounds(after)):
        steps += steps[jump]
        jump = jump[jump]
    earliest = np.full(len(after), len(after), dtype=np.int64)
    np.minimum.at(earliest, last, rows)
    _, chain = np.unique(earliest[last], return_inverse=True)
    chain = chain.reshape(-1).astype(np.int64)
    order = np.lexsort((-steps, chain)).astype(np.int64)
    first = np.flatnonzero(np.diff(chain[order], prepend=-1)).astype(np.int64)
    return Chains(chain, order, first, ring[order[first]])


def _rounds(after: Ints) -> int:
    return int(len(after)).bit_length()


def _before(after: Ints) -> Ints:
    """The piece before each, or -1."""
    before = np.full(len(after), -1, dtype=np.int64)
    rows = np.flatnonzero(after >= 0)
    before[after[rows]] = rows
    return before


def _count_up(ordered: Ints) -> Ints:
    """0, 1, 2 ... within each run of equal numbers."""
    change = np.concatenate([[True], ordered[1:] != ordered[:-1]])
    starts = np.flatnonzero(change)
    place: Ints = np.arange(len(ordered)) - starts[np.cumsum(change) - 1]
    return place
