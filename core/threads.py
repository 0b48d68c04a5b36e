"""Threads: how many the libraries below numpy may take, and work of ours that goes on side by side.

numpy lets go of Python's lock in most of its loops, so two threads nearly halve the time of what is mostly numpy.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

A = TypeVar("A")
B = TypeVar("B")


def one_for_matrices() -> None:
    """One thread for products of matrices, unless the user has said otherwise; to be called before numpy is loaded.

    The matrices here have six columns: threads wait for one another longer than they work (a line-up of a million
    triangles spent a third of its processor time so).
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def each(work: Callable[[A], B], parts: Iterable[A]) -> list[B]:
    """``work`` done to each of ``parts``, in as many threads as there are processors; the answers in the parts' order.

    >>> each(abs, [-1, 2, -3])
    [1, 2, 3]
    """
    waiting = list(parts)
    if len(waiting) < 2:
        return [work(part) for part in waiting]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return list(pool.map(work, waiting))


def at_once(first: Callable[[], A], second: Callable[[], B]) -> tuple[A, B]:
    """The answers of both, worked out side by side. Where both fail it is the first's error that is raised.

    >>> at_once(lambda: 1, lambda: "b")
    (1, 'b')
    """
    with ThreadPoolExecutor(1) as pool:
        other = pool.submit(second)
        one = first()
        return one, other.result()
