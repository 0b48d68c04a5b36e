"""A plate beside the mouse, in random views: inside them always, and clear of the mouse wherever there is room."""

from __future__ import annotations

import numpy as np
import pytest

from core.legend.beside import beside


@pytest.mark.parametrize("seed", range(40))
def test_inside_the_view_and_clear_of_the_mouse(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(50):
        left, bottom = rng.uniform(0, 200, 2)
        across, up = rng.uniform(100, 1500, 2)
        size = tuple(rng.uniform(0.1, 1.0, 2) * (min(across, 400.0), min(up, 200.0)))
        mouse = (left + rng.uniform(0, across), bottom + rng.uniform(0, up))
        gap = 22.0
        x, y = beside(mouse, size, (left, bottom, across, up), gap)
        assert left - 1e-9 <= x
        assert x + size[0] <= left + across + 1e-9
        assert bottom - 1e-9 <= y
        assert y + size[1] <= bottom + up + 1e-9
        aside = max(x - mouse[0], mouse[0] - x - size[0], y - mouse[1], mouse[1] - y - size[1])
        room = max(left + across - mouse[0] - size[0], mouse[0] - left - size[0],
                   bottom + up - mouse[1] - size[1], mouse[1] - bottom - size[1])
        if room >= gap:
            assert aside >= gap - 1e-9


def test_a_view_smaller_than_the_plate_shows_its_beginning() -> None:
    assert beside((50, 50), (300, 200), (10, 20, 100, 80), 20) == (10.0, -100.0)
