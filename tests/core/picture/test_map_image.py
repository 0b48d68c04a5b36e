"""The map's pixels: depths survive the packing, steps have the legend's colours, marks lie where they should."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.legend.legend import colours, legend
from core.map.relief import lit
from core.picture.map_image import (
    PAPER,
    RIM,
    Seen,
    by_corner,
    coloured,
    grown,
    inked,
    over,
    packed,
    seen,
    textured,
)

KEY = legend(0.25, 3.2)


def flat(depth: np.ndarray) -> Seen:
    depth = depth.astype(np.float32)
    return Seen(depth, np.full_like(depth, 0.8), np.ones(depth.shape, dtype=bool))


@given(st.lists(st.one_of(st.floats(-49.0, 49.0), st.just(np.nan)), min_size=1, max_size=30))
def test_depths_survive_packing_as_the_renderer_keeps_numbers(depths: list[float]) -> None:
    """Half precision (IEEE 754 binary16) has 11 bits: at most 2^-11 of the value is lost."""
    depth = np.array(depths)
    kept = packed(depth, np.full(len(depth), 0.5)).astype(np.float16).astype(np.float32)
    got = seen(kept[None])
    np.testing.assert_array_equal(np.isnan(got.depth_mm[0]), np.isnan(depth))
    known = np.isfinite(depth)
    np.testing.assert_allclose(got.depth_mm[0][known], depth[known], rtol=2**-11, atol=1e-5)
    assert got.metal.all()


def test_between_two_corners_depth_runs_straight() -> None:
    """The renderer mixes colours; depths of one sign mix alike, and across zero the error stays inside true metal."""
    ends = packed(np.array([1.0, 4.0]), np.ones(2))
    np.testing.assert_allclose(seen(np.array([[0.25 * ends[0] + 0.75 * ends[1]]])).depth_mm, 3.25, rtol=1e-6)
    across = packed(np.array([-0.4, 0.8]), np.ones(2))
    shares = np.linspace(0, 1, 101)[:, None]
    got = seen(((1 - shares) * across[0] + shares * across[1])[None]).depth_mm[0]
    np.testing.assert_allclose(got, -0.4 + 1.2 * shares[:, 0], atol=1e-6)


def test_faces_with_one_corner_not_judged_are_not_judged() -> None:
    depth, vertex = np.array([1.0, 2.0, np.nan, 4.0, 5.0]), np.array([0, 1, 2, 0, 1, 3, 4])
    got = by_corner(depth, vertex, np.array([3, 4]))
    np.testing.assert_array_equal(got, [np.nan] * 3 + [1.0, 2.0, 4.0, 5.0])


@pytest.mark.parametrize("fine", [1, 2, 3])
def test_each_step_has_the_legends_very_colour(fine: int) -> None:
    depth = np.repeat(np.repeat([[-3.0, -1.5, -0.7, -0.3, 0.0, 0.3, 0.7, 1.5, 3.0]], 9, axis=1), 27, axis=0)
    image = coloured(flat(depth.repeat(fine, 0).repeat(fine, 1)), KEY, True, 10, fine)
    wanted = colours(depth[13, 4::9], KEY)
    np.testing.assert_array_equal(image[13, 4::9], wanted)


def test_hatch_and_dots_mark_what_has_no_depth_to_trust() -> None:
    deep, unknown = flat(np.full((60, 60), 4.0)), flat(np.full((60, 60), np.nan))
    for view, step in ((deep, KEY.steps[-2]), (unknown, KEY.steps[-1])):
        image = coloured(view, KEY, True, 9, 1)[5:-5, 5:-5]
        own = (image == step.colour).all(axis=-1).mean()
        assert 0.5 < own < 0.95
        assert len(np.unique(image.reshape(-1, 3), axis=0)) == 2
    plain = coloured(deep, KEY, False, 9, 1)[5:-5, 5:-5]
    assert (plain == KEY.steps[-2].colour).all()
    written = np.zeros((60, 60), dtype=np.float32)
    written[20:40, 20:40] = 1.0
    assert (coloured(deep, KEY, True, 9, 1, written)[20:40, 20:40] == KEY.steps[-2].colour).all()


def test_outline_and_paper() -> None:
    metal = np.zeros((40, 40), dtype=bool)
    metal[10:30, 10:30] = True
    image = coloured(Seen(np.zeros((40, 40), np.float32), np.ones((40, 40), np.float32), metal), KEY, True, 10, 1)
    assert (image[~metal] == PAPER).all()
    assert (image[10, 10:30] == RIM).all()
    assert (image[15:25, 15:25] == KEY.steps[KEY.true_step].colour).all()


def test_light_comes_from_above_left_and_both_sides_of_a_sheet_are_lit() -> None:
    right, up, toward = np.eye(3)
    slopes = np.array([[-0.3, 0.4, 0.85], [0.3, -0.4, 0.85], [0.0, 0.0, 1.0]])
    slopes /= np.linalg.norm(slopes, axis=1, keepdims=True)
    light = lit(slopes, right, up, toward)
    assert light[0] > light[2] > light[1]
    np.testing.assert_allclose(lit(-slopes, right, up, toward), light)
    assert (light >= 0).all()
    assert (light <= 1).all()


def test_laying_over() -> None:
    """Porter & Duff 1984 (doi:10.1145/800031.808606), "over" on an opaque ground."""
    ground = np.full((1, 3, 3), 200, dtype=np.uint8)
    above = np.array([[[1.0, 0, 0, 0.0], [1.0, 0, 0, 1.0], [1.0, 0, 0, 0.5]]], dtype=np.float32)
    np.testing.assert_array_equal(over(ground, above)[0], [[200, 200, 200], [255, 0, 0], [228, 100, 100]])
    np.testing.assert_array_equal(inked(ground, np.array([[0, 1, 0.5]], np.float32), (0, 100, 0))[0],
                                  [[200, 200, 200], [0, 100, 0], [100, 150, 100]])


def test_legend_gets_its_marks_by_colour() -> None:
    image = np.tile(np.array(KEY.steps[-2].colour, dtype=np.uint8), (40, 40, 1))
    image[:, :20] = KEY.steps[2].colour
    image[:20, 20:] += 1  # a drawing's rounding
    before = image.copy()
    textured(image, KEY, True, 9)
    np.testing.assert_array_equal(image[:, :20], before[:, :20])
    assert 0.1 < (image[:, 20:] != before[:, 20:]).any(axis=-1).mean() < 0.5


def test_growing_is_a_diamond() -> None:
    spot = np.zeros((9, 9), dtype=bool)
    spot[4, 4] = True
    row, column = np.indices((9, 9))
    np.testing.assert_array_equal(grown(spot, 3), np.abs(row - 4) + np.abs(column - 4) <= 3)
