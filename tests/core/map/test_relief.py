"""Soft light on true metal: the legend's chalk where it is even, darker or lighter where it turns, by closed form."""

from __future__ import annotations

import numpy as np
import pytest

from core.legend.legend import colours, legend
from core.map.relief import RELIEF, map_colours


def shown(depth_mm: np.ndarray, normals: np.ndarray) -> np.ndarray:
    """What a screen shows of the map's colours, 0 to 255 (IEC 61966-2-1, from scene-linear)."""
    rgba = map_colours(depth_mm, legend(0.25), normals).astype(float)
    assert (rgba[:, 3] == 1).all()
    linear = rgba[:, :3]
    return 255 * np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)


def flat(count: int) -> np.ndarray:
    return np.tile([0.0, 0.0, 1.0], (count, 1))


def test_on_flat_metal_they_are_the_legends_own() -> None:
    depth = np.array([-3.0, -0.6, -0.1, 0.0, 0.1, 0.6, 3.0, np.nan])
    np.testing.assert_allclose(shown(depth, flat(len(depth))), colours(depth, legend(0.25)), atol=0.05)


def test_colours_that_mean_something_are_left_alone_however_the_metal_turns() -> None:
    rng = np.random.default_rng(3)
    normals = rng.normal(size=(400, 3)) * 0.3 + [0, 0, 1]
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    depth = np.where(rng.random(400) < 0.5, 2.0, -2.0)
    depth[::7] = np.nan
    np.testing.assert_allclose(shown(depth, normals), colours(depth, legend(0.25)), atol=0.05)


@pytest.mark.parametrize("turn_deg", [-20.0, -8.0, 8.0, 20.0])
def test_a_turned_strip_of_true_metal_is_lighter_or_darker_by_the_lamp_s_cosine(turn_deg: float) -> None:
    turn, flat_count = np.radians(turn_deg), 500
    strip = np.tile([0.0, np.sin(turn), np.cos(turn)], (3, 1))  # turned about x: up is y on a panel that lies flat
    got = shown(np.zeros(flat_count + 3), np.vstack([flat(flat_count), strip]))
    lamp = np.array([-0.45, 0.55, 0.70]) / np.linalg.norm([0.45, 0.55, 0.70])
    share = np.clip(1 + RELIEF * 0.5 * (lamp @ strip[0] - lamp[2]), 0.75, 1.035)
    np.testing.assert_allclose(got[-1], np.minimum(got[0] * share, 255.0), atol=1.0)
    assert (got[-1, 1] > got[0, 1]) == (turn_deg > 0)
