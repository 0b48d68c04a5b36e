"""Whether two meshes may lie on one another already, from their boxes alone. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

_TOGETHER = 0.8  # of the smaller box's length each way that the other must cover
_THIN = 0.05  # of the larger box's longest side: a flat panel's box has no thickness to cover


def boxes_meet(corners: ArrayLike, other: ArrayLike) -> bool:
    """Whether the boxes around ``corners`` (k, 3) and ``other`` (j, 3), in one unit, cover one another well, each way.

    >>> flat = np.array([[0.0, 0, 0], [10, 6, 0.5]])
    >>> boxes_meet(flat, flat + 0.2), boxes_meet(flat, flat + [4, 0, 0]), boxes_meet(flat, flat * 10)
    (True, False, True)
    """
    first, second = np.asarray(corners, dtype=np.float64), np.asarray(other, dtype=np.float64)
    low, high = (np.stack([one(part, axis=0) for part in (first, second)]) for one in (np.min, np.max))
    slack = _THIN * float((high - low).max())
    covered = high.min(axis=0) - low.max(axis=0) + slack
    return bool((covered >= _TOGETHER * ((high - low).min(axis=0) + slack)).all())
