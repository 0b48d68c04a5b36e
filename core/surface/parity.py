"""Things in two states, tied in pairs that must be in the same or in opposite ones."""

from __future__ import annotations

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from .surface import Ints, Mask


def two_states(first: Ints, second: Ints, alike: Mask, count: int) -> tuple[Ints, Ints]:
    """Which part each of ``count`` things falls into as it is, and turned over, (count,) each.

    Ties (k,) go from ``first`` to ``second``; where ``alike`` both keep or both change their state, else one does.
    What hangs together gives two parts that are each other's opposites, or one and the same where the ties contradict
    one another.

    >>> two_states(np.array([0, 1]), np.array([1, 2]), np.array([True, False]), 3)
    (array([0, 0, 1]), array([1, 1, 0]))
    >>> two_states(np.array([0, 0]), np.array([1, 1]), np.array([True, False]), 2)
    (array([0, 0]), array([0, 0]))
    """
    partner = np.where(alike, second, second + count)
    mirror = np.where(alike, second + count, second)
    ends = (np.concatenate([first, first + count]), np.concatenate([partner, mirror]))
    graph = sparse.coo_matrix((np.ones(len(ends[0]), dtype=np.int8), ends), shape=(2 * count, 2 * count))
    _, label = connected_components(graph, directed=False)
    label = label.astype(np.int64)
    return label[:count], label[count:]
