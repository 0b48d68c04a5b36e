"""The steps of the maps beside the plan's."""

from __future__ import annotations

import numpy as np
import pytest

from core.legend.legend import INCH_MM, legend, step_of
from core.map.map_keys import MAPS, TITLES, map_key, map_words


@pytest.mark.parametrize("unit", ["mm", "inch"])
def test_signed_maps_have_the_plans_own_colours(unit: str) -> None:
    """A depth keeps its colour whichever map it is in, so that two maps can be laid side by side."""
    for kind in ("good_side", "as_was"):
        assert map_key(kind, 0.25, unit) == legend(0.25, None, unit)


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("inch", INCH_MM)])
def test_uncertainty_has_steps_of_its_own(unit: str, mm: float) -> None:
    """Each step above its edge; the edge itself belongs to the step nearer to none, as in `legend`."""
    key = map_key("line_up", 0.25, unit)
    edges = np.array([step.high_mm for step in key.steps[:-2]])
    np.testing.assert_array_equal(key.edges_mm, edges)
    assert (np.diff(edges) > 0).all()
    np.testing.assert_array_equal(step_of([0.0, *edges], key), [0, *range(len(edges))])
    np.testing.assert_array_equal(step_of(edges * 1.001, key), range(1, len(edges) + 1))
    assert step_of([np.nan], key)[0] == len(key.steps) - 1
    assert len({step.colour for step in key.steps}) == len(key.steps)
    assert edges[0] / mm < 0.005


def test_the_tolerance_is_no_step_of_the_uncertainty() -> None:
    assert map_key("line_up", 0.1, "mm") == map_key("line_up", 1.0, "mm")


def test_every_map_says_what_it_is() -> None:
    for kind in MAPS:
        words = map_words(kind)
        assert TITLES[kind]
        assert words.below
        assert bool(words.above) == any(step.kind == "high" for step in map_key(kind, 0.25, "mm").steps)
