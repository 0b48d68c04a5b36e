"""Where a falling function crosses zero. scipy.optimize has better, and takes an eighth of a second to load."""

from __future__ import annotations

from collections.abc import Callable


def falling_root(of: Callable[[float], float], low: float, high: float) -> float:
    """The point between ``low``, where ``of`` is above 0, and ``high``, where it is not, from which it is no longer;
    halved until the two ends are neighbouring numbers, so to the last bit.

    >>> falling_root(lambda x: 2.0 - x * x, 0.0, 2.0) == 2.0**0.5
    True
    """
    while low < (middle := 0.5 * (low + high)) < high:
        low, high = (middle, high) if of(middle) > 0 else (low, middle)
    return high
