"""Edges put in order as lines from end to end. numpy only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def edge_lines(points: Floats, edges: Ints) -> tuple[Floats, ...]:
    """The ``edges`` (m, 2) between ``points`` (k, 3) as lines (j, 3), each from one end or fork to the next.

    A ring without an end begins anywhere and closes. Meant for lines drawn by hand: some hundred edges.

    >>> import numpy as np
    >>> points = np.array([[0.0, 0, 0], [2, 0, 0], [1, 0, 0]])
    >>> [line[:, 0].tolist() for line in edge_lines(points, np.array([[2, 1], [0, 2]]))]
    [[0.0, 1.0, 2.0]]
    >>> [len(line) for line in edge_lines(points, np.array([[0, 1], [1, 2], [2, 0]]))]
    [4]
    >>> edge_lines(points, np.empty((0, 2), dtype=int))
    ()
    """
    beside: dict[int, list[int]] = defaultdict(list)
    for a, b in edges.tolist():
        beside[a].append(b)
        beside[b].append(a)
    lines = [_walk(beside, start, following) for start in sorted(beside) if len(beside[start]) != 2
             for following in list(beside[start])]
    lines += [_walk(beside, start, beside[start][0]) for start in sorted(beside) if beside[start]]
    return tuple(points[line] for line in lines if len(line) > 1)


def _walk(beside: dict[int, list[int]], start: int, following: int) -> list[int]:
    """From ``start`` on until the next end or fork, taking the edges away; one point where the edge was taken."""
    line = [start]
    forks = {start}
    while following in beside[line[-1]]:
        beside[line[-1]].remove(following)
        beside[following].remove(line[-1])
        line.append(following)
        if len(beside[following]) != 1 or following in forks:
            break
        following = beside[following][0]
    return line


def as_edges(lines: Sequence[Floats]) -> tuple[Floats, Ints]:
    """Points (n, 3) and edges (m, 2) of lines of points (k, 3), one after the other: what `edge_lines` reads.

    >>> as_edges([np.zeros((2, 3)), np.ones((3, 3))])[1].tolist()
    [[0, 1], [2, 3], [3, 4]]
    """
    count = np.array([len(line) for line in lines], dtype=np.int64)
    points = np.concatenate([np.zeros((0, 3)), *lines])
    start = np.arange(len(points))
    last = np.cumsum(count) - 1
    start = start[~np.isin(start, last)]
    return points, np.stack([start, start + 1], axis=1)
