"""Chains of pieces against a plain walk from piece to piece."""

from __future__ import annotations

import numpy as np
import pytest

from core.surface.chains import chains, followers


def walked(after: list[int]) -> list[tuple[list[int], bool]]:
    """Brute force: open chains from their beginnings, rings from their earliest pieces, by earliest piece."""
    found, seen = [], set()
    begun = [k for k in range(len(after)) if k not in after]
    for start in [*begun, *range(len(after))]:
        row, k = [], start
        while k >= 0 and k not in seen:
            seen.add(k)
            row.append(k)
            k = after[k]
        if row:
            found.append((row, k == start))
    return sorted(found, key=lambda chain: min(chain[0]))


@pytest.mark.parametrize("count", [1, 2, 3, 7, 64, 1000])
@pytest.mark.parametrize("ends", [0.0, 0.05, 0.5, 1.0])
def test_chains_are_those_of_a_walk(count: int, ends: float) -> None:
    # A random permutation has rings of all lengths, pieces that follow themselves too; some are cut into open chains.
    rng = np.random.default_rng(count)
    after = rng.permutation(count)
    after[rng.random(count) < ends] = -1
    found = chains(after)
    wanted = walked(after.tolist())
    rows = np.split(found.order, found.first[1:])
    assert [(row.tolist(), bool(closed)) for row, closed in zip(rows, found.closed, strict=True)] == wanted
    for number, row in enumerate(rows):
        assert (found.chain[row] == number).all()


def test_each_piece_is_followed_by_one_that_starts_at_its_end_and_none_follows_two() -> None:
    rng = np.random.default_rng(3)
    start, end = rng.integers(0, 40, 100), rng.integers(0, 40, 100)
    after = followers(start, end)
    met = after >= 0
    np.testing.assert_array_equal(start[after[met]], end[met])
    assert len(np.unique(after[met])) == met.sum()
    # As many as can be: at each point the fewer of those that come and those that leave.
    coming, leaving = np.bincount(end, minlength=40), np.bincount(start, minlength=40)
    assert met.sum() == np.minimum(coming, leaving).sum()
