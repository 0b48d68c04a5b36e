"""Which side of a body is the good one, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from core.errors import InputError
from core.place.symmetry import Plane, find_symmetry
from core.shape.good_side import good_side
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, grid_points, sheet

START = Plane(np.array([1.0, 0, 0]), 2.0)


def body(unlike_mm: float = 0.0, dent_mm: float = 4.0, other_mm: float = 0.0, step: float = 8.0) -> Surface:
    """A bonnet of 1000 x 700 mm with a dent on its right, another on its left, and sides unlike each other."""
    x, y = grid_points(1000, 700, step)
    x = x - 500
    z = -(x**2) / 2500 - (y - 150) ** 2 / 1500 + 8 * np.exp(-(((np.abs(x) - 250) / 60) ** 2))
    z = z + unlike_mm * np.sin(x / 200) + 0.03 * np.random.default_rng(0).standard_normal(x.shape)
    dent = cosine_dent(x, y, (300.0, 300.0), (70.0, 70.0), dent_mm)
    return sheet(x, y, z - dent - cosine_dent(x, y, (-300.0, 450.0), (70.0, 70.0), other_mm))


@pytest.mark.parametrize("unlike_mm", [-0.5, -0.25, 0.0, 0.25, 0.5])
def test_the_side_without_the_dent_whatever_the_sides_differ_by(unlike_mm: float) -> None:
    """15 cm3 of asymmetry all over must not outweigh 18 cm3 of dent; the good side lies at -x, its image at +x."""
    made = body(unlike_mm)
    found = good_side(made, find_symmetry(made, START))
    assert found.side == "towards -x"
    assert found.surface.vertices[:, 0].mean() > 100
    assert found.warnings == ()


def test_a_mirror_set_aside_tells_nothing() -> None:
    made = body()
    on = (np.abs(made.vertices[:, 0] - 350) < 60) & (np.abs(made.vertices[:, 1] - 550) < 60)
    housing = Surface(made.vertices + on[:, None] * np.array([0, 0, 30.0]), made.triangles)
    assert good_side(housing, find_symmetry(housing, START, aside=on), aside=on).side == "towards -x"


def test_dents_on_both_sides_are_doubted() -> None:
    made = body(other_mm=4.0)
    assert any("which side is the good one is not clear" in text
               for text in good_side(made, find_symmetry(made, START)).warnings)


def test_a_point_on_the_good_side_decides() -> None:
    made = body()
    symmetry = find_symmetry(made, START)
    for sign, way in ((1.0, "+x"), (-1.0, "-x")):
        found = good_side(made, symmetry, np.array([200.0 * sign, 0, 0]))
        assert found.side == f"towards {way}"
        assert np.sign(found.surface.vertices[:, 0].mean()) == -sign
    for wrong in ([0.01, 0, 0], [np.nan, 0, 0]):
        with pytest.raises(InputError, match="well away from the symmetry plane"):
            good_side(made, symmetry, np.array(wrong))
