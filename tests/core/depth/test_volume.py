"""Volume in each pair of triangles, against closed forms and against another library's signed volumes."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from core.depth.sheets import Sheets
from core.depth.volume import volumes
from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import found_between

RIGHT = np.array([[0.0, 0, 0], [6, 0, 0], [0, 5, 0]])
height = st.floats(0.01, 10.0)


def pair(panel: Floats, feet: Floats, depth: Floats) -> Sheets:
    return Sheets(panel, feet, depth, np.array([[0, 1, 2]]), np.array([0]))


@given(height, height, height)
def test_triangle_of_mixed_sign(p: float, q: float, r: float) -> None:
    # A triangle of heights +p, -q, -r: the positive part is A p^3 / (3 (p+q) (p+r));
    # the sum is A (p-q-r) / 3 (textbook).
    for sign in (1.0, -1.0):
        depth = sign * np.array([p, -q, -r])
        got = volumes(pair(RIGHT, RIGHT + [0, 0, 1] * depth[:, None], depth))
        part = 15 * p**3 / (3 * (p + q) * (p + r))
        some, other = (got.fill_mm3[0], got.cut_mm3[0])[:: int(sign)]
        assert some == pytest.approx(part, rel=1e-9)
        assert some - other == pytest.approx(15 * (p - q - r) / 3, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("tilt", [5.0, 30.0, 60.0])
def test_steep_plane_through_the_target(tilt: float) -> None:
    # Two right-angled wedges: L x^2 sin t cos t / 2 on each side. Depth counts square to the target, not to the panel.
    t = np.radians(tilt)
    u = np.linspace(-10.37, 10, 21)
    panel = shapes.extruded(u * np.cos(t), u * np.sin(t), np.linspace(0, 20, 21))
    got = found_between(panel, shapes.flat_target(0.0, 20.0))
    assert got.fill == pytest.approx(20 * 10.37**2 * np.sin(t) * np.cos(t) / 2, rel=1e-9)
    assert got.cut == pytest.approx(20 * 10.0**2 * np.sin(t) * np.cos(t) / 2, rel=1e-9)


@given(st.lists(st.floats(-3.0, 3.0), min_size=18, max_size=18))
def test_signed_volume_is_that_of_the_closed_body(shake: list[float]) -> None:
    # Any two triangles with ruled sides: each side as many thin triangles, volume by trimesh (another library).
    panel, feet = RIGHT + np.reshape(shake[:9], (3, 3)) / 6, RIGHT + [0, 0, 6] + np.reshape(shake[9:], (3, 3)) / 6
    got = volumes(pair(panel, feet, np.full(3, 6.0)))
    # A ruled side has the volume of its two diagonals' mean.
    total = 0.0
    for diagonal in (0, 1):
        faces = [[3, 4, 5], [2, 1, 0]]
        for k in range(3):
            a, b = k, (k + 1) % 3
            faces += [[a, b, b + 3], [a, b + 3, a + 3]] if diagonal else [[a, b, a + 3], [b, b + 3, a + 3]]
        body = trimesh.Trimesh(np.concatenate([panel, feet]), faces, process=False)
        total += body.volume / 2
    assert got.signed_mm3[0] == pytest.approx(total, rel=1e-9, abs=1e-9)


def test_fill_and_cut_are_never_negative() -> None:
    # By definition; panels that weave through the target, facets on rounding's edge among them.
    rng = np.random.default_rng(5)
    for size in (1e-14, 1e-3, 1.0, 5.0):
        x, y = shapes.grid_points(40.0, 40.0, 2.0)
        panel = shapes.sheet(x, y, rng.normal(0, size, x.shape))
        got = found_between(panel, shapes.flat_target(40.0, 40.0)).volumes
        assert got.fill_mm3.min() >= 0
        assert got.cut_mm3.min() >= 0


def test_sum_of_parts_is_the_whole() -> None:
    # Additivity: the panel cut in two along its triangles.
    x, y = shapes.grid_points(60.0, 60.0, 2.0)
    panel = shapes.sheet(x, y, 0.6 * np.sin(x / 7) * np.cos(y / 9))
    left = panel.vertices[panel.triangles].mean(axis=1)[:, 0] < 23.0
    target = shapes.flat_target(60.0, 60.0)
    whole, one, two = (found_between(part, target) for part in (panel, panel.part(left), panel.part(~left)))
    assert one.fill + two.fill == pytest.approx(whole.fill, rel=1e-12)
    assert one.cut + two.cut == pytest.approx(whole.cut, rel=1e-12)


def test_nothing_between_a_sheet_and_itself() -> None:
    # By definition; a crowned sheet, so that feet fall on vertices.
    x, y = shapes.grid_points(60.0, 60.0, 3.0)
    sheet: Surface = shapes.sphere_patch(x - 30, y - 30, 500.0)
    got = found_between(sheet, sheet)
    assert got.depth.judged.all()
    assert got.fill + got.cut < 1e-9
