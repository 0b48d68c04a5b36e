"""A step of a random run, and what it may change of the user's meshes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from tests.random_use.world import Steps, World

SHAPE, PLACE, BACK = "shape", "place", "back"  # BACK: to any state that was there before, or in the file


@dataclass(frozen=True)
class Step:
    """``often``: how often, beside the others; ``changes``: what it may change."""

    name: str
    often: float
    changes: frozenset[str]
    do: Callable[[World], Steps]


KNOWN: list[Step] = []


def step(often: float, *changes: str) -> Callable[[Callable[[World], Steps]], Callable[[World], Steps]]:
    """Have a function be one of the steps."""

    def known(do: Callable[[World], Steps]) -> Callable[[World], Steps]:
        KNOWN.append(Step(do.__name__, often, frozenset(changes), do))
        return do

    return known
