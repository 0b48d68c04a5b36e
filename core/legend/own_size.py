"""How large a panel is as a tape would say: along its own length, width and depth, however it lies. numpy only."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_SAMPLE = 5_000  # points that the axes are chosen by; the sizes are those of all
_COARSE, _FINE = np.arange(0.0, 90.0, 1.0), np.arange(-1.0, 1.01, 0.05)  # degrees


def own_sizes(points: ArrayLike) -> tuple[float, float, float]:
    """Length, width and height of the box around ``points`` (k, 3), in their unit, the longest first of length and
    width: flat on the way in which they are spread least, and turned on that to the least area. Points that are not
    finite are left out.

    >>> corners = np.array([[0.0, 0, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0], [2, 1, 0.5]])
    >>> [round(size, 6) for size in own_sizes(corners)][1] < 3.2
    True
    >>> own_sizes([[1, 1, 1]])
    (0.0, 0.0, 0.0)
    """
    every = np.asarray(points, dtype=np.float64)
    every = every[np.isfinite(every).all(axis=1)]
    if not len(every):
        return 0.0, 0.0, 0.0
    away = every - every.mean(axis=0)
    some = away[:: max(1, len(away) // _SAMPLE)]
    ways = np.linalg.eigh(away.T @ away)[1]
    across = ways[:, 1:]
    turn = min(_COARSE, key=lambda angle: _area(some @ across, angle))
    turn += min(_FINE, key=lambda angle: _area(some @ across, turn + angle))
    axes = np.column_stack([across @ _turned(turn), ways[:, 0]])
    sizes = [float(np.ptp(away @ axes[:, k])) for k in range(3)]
    return max(sizes[:2]), min(sizes[:2]), sizes[2]


def _area(flat: Floats, turn_deg: float) -> float:
    seen = flat @ _turned(turn_deg)
    return float(np.ptp(seen[:, 0]) * np.ptp(seen[:, 1]))


def _turned(turn_deg: float) -> Floats:
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    return np.array([[c, -s], [s, c]])
