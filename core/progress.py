"""Progress of long work: one callback that hears how far it is and may stop it.

A callback takes ``(share, step)``: the share done, 0 to 1, and the step's name in plain words.
It returns False to stop the work, which then raises `Cancelled`; anything else goes on.
"""

from __future__ import annotations

from collections.abc import Callable

from .errors import Cancelled

Progress = Callable[[float, str], object]


def silent(share: float, step: str) -> None:
    """A callback that listens to nothing."""


def report_progress(progress: Progress, share: float, step: str) -> None:
    """Report ``share`` (0 to 1) and ``step``; raises Cancelled where the callback returns False.

    >>> report_progress(lambda share, step: print(f"{share:.0%} {step}"), 0.5, "Finding feet")
    50% Finding feet
    >>> report_progress(lambda share, step: False, 0.5, "Finding feet")
    Traceback (most recent call last):
    ...
    core.errors.Cancelled: stopped by the user at: Finding feet
    """
    if progress(share, step) is False:
        raise Cancelled(f"stopped by the user at: {step}")


def within(progress: Progress, start: float, end: float) -> Progress:
    """A callback for a part of the work, from ``start`` to ``end`` of the whole.

    >>> within(lambda share, step: print(f"{share:.0%} {step}"), 0.2, 0.6)(0.5, "Finding feet")
    40% Finding feet
    """
    return lambda share, step: progress(start + (end - start) * share, step)
