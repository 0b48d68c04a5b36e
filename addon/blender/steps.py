"""Work that Blender's own process must do, in small steps, so that its window goes on between them."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

T = TypeVar("T")
Steps = Generator[None, None, T]
_PAUSE_S = 0.005


def in_a_thread(work: Callable[[], T]) -> Steps[T]:
    """``work``, which must not touch Blender, done in a thread; a step for each look whether it is done."""
    with ThreadPoolExecutor(1) as pool:
        future = pool.submit(work)
        while not future.done():
            yield
        return future.result()


def finished(steps: Steps[T]) -> T:
    """What the steps come to, taken one after the other: in scripts, in the background, in tests."""
    while True:
        try:
            next(steps)
        except StopIteration as end:
            found: T = end.value
            return found
        time.sleep(_PAUSE_S)
