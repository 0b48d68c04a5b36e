"""Enclosed volumes against closed forms: handbooks, earthwork books, Steiner's formula, calculus."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import trimesh

from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import found_between


def square(width: float, step: float, middle: bool = False) -> tuple[Floats, Floats]:
    """A grid over a square; with ``middle`` its middle is at 0, 0."""
    x, y = shapes.grid_points(width, width, step)
    return (x - width / 2, y - width / 2) if middle else (x, y)


def set_in_volume(depth: Floats, step: float, area: Floats, k1: Floats, k2: Floats) -> float:
    """Volume between a surface and itself set in by ``depth`` along its normals (Steiner's formula, point by point):
    the integral of d - d^2 (k1 + k2) / 2 + d^3 k1 k2 / 3 over its area. Trapezoids on a grid of ``step``."""
    layer = depth - depth**2 * (k1 + k2) / 2 + depth**3 * k1 * k2 / 3
    return float((layer * area).sum() * step**2)


def test_spherical_cap_sunk_in_a_plane() -> None:
    # Handbook formula pi h (3 a^2 + h^2) / 6 = 16 978.737 mm3 for a mouth of radius 60 and a depth of 3.
    x, y = square(130.0, 1.0)
    panel = shapes.sheet(x, y, -shapes.cap_dent(x, y, (65.0, 65.0), 60.0, 3.0))
    got = found_between(panel, shapes.flat_target(130.0, 130.0))
    assert got.fill == pytest.approx(16_978.737, rel=3e-4)
    assert got.cut < 1e-9
    assert got.depth.depth_mm.max() == pytest.approx(3.0, abs=1e-12)


def test_cosine_dent() -> None:
    # Closed form pi a^2 d (1/2 - 2/pi^2) (calculus).
    x, y = square(130.0, 2.0)
    panel = shapes.sheet(x, y, -shapes.cosine_dent(x, y, (63.0, 66.0), (60.0, 60.0), 5.0))
    got = found_between(panel, shapes.flat_target(130.0, 130.0))
    assert got.fill == pytest.approx(np.pi * 60**2 * 5 * (0.5 - 2 / np.pi**2), rel=2e-4)
    assert got.cut < 1e-9


def test_cosine_trough_right_across() -> None:
    # d/2 (1 + cos) over a width of 2a, length L: a d L (calculus). Its ends run out at the panel's rim.
    x, y = square(130.0, 1.0)
    low = np.where(np.abs(x - 65) < 40, 1.5 * (1 + np.cos(np.pi * (x - 65) / 40)), 0.0)
    got = found_between(shapes.sheet(x, y, -low), shapes.flat_target(130.0, 130.0))
    assert got.fill == pytest.approx(40 * 3.0 * 130, rel=3e-4)


@pytest.mark.parametrize(("heights", "sign"), [((0.5, 1.5, 2.5), 1), ((-0.5, -1.5, -2.5), -1)])
def test_embankment_by_the_prismoidal_rule(heights: tuple[float, ...], sign: int) -> None:
    # Earthwork book: 150 long, 11 across the top, 2:1, 0.5 to 2.5 high: 3 250 (end areas would give 3 450).
    panel = shapes.bank(np.array([0.0, 75, 150]), np.array(heights), 11.0, 2.0)
    got = found_between(panel, shapes.flat_target(150.0, 150.0, 200.0))
    some, none = (got.cut, got.fill)[::sign]
    assert some == pytest.approx(3250.0, rel=1e-9)
    assert none < 1e-9


def test_railway_cutting() -> None:
    # Vose, Handbook of Railroad Construction (1857) s. 108: 52 500 cubic feet (end areas 56 250); 1 ft as 1 mm.
    panel = shapes.bank(np.arange(0.0, 201, 50), -np.array([0.0, 5, 10, 15, 0]), 20.0, 1.5)
    got = found_between(panel, shapes.flat_target(200.0, 200.0, 200.0))
    assert got.fill == pytest.approx(52_500.0, rel=1e-9)
    assert got.cut < 1e-9


@pytest.mark.parametrize(("set_in", "exact"), [(-2.0, 256_387.4709), (2.0, 246_334.3744)])
def test_shell_of_a_sphere_and_second_order(set_in: float, exact: float) -> None:
    # Steiner's formula, R = 100, t = 2: closed bodies, sheets without a rim. Flat facets are off by second
    # order: half the spacing, a quarter of the error.
    errors = []
    for level in (4, 5):
        panel, target = (icosphere(level, radius) for radius in (100 - set_in, 100.0))
        got = found_between(panel, target)
        assert min(got.fill, got.cut) < 1e-9
        errors.append((got.fill + got.cut) / exact - 1)
    assert abs(errors[1]) < 1.2e-3
    assert 3.5 < errors[0] / errors[1] < 4.5


def icosphere(level: int, radius: float) -> Surface:
    mesh = trimesh.creation.icosphere(subdivisions=level, radius=radius)
    return Surface(np.array(mesh.vertices, dtype=np.float64), np.array(mesh.faces, dtype=np.int64))


def test_shell_of_a_cylinder_and_second_order() -> None:
    # Steiner's formula: R = 500, 300 x 200 of arc, 3 mm inside: 179 460 mm3; half the spacing, a quarter of the error.
    errors = []
    for step in (10.0, 5.0, 2.5):
        u, v = shapes.grid_points(200.0, 300.0, step)
        wide_u, wide_v = shapes.grid_points(280.0, 360.0, step)
        target = shapes.torus_patch(wide_u - 40, wide_v - 180 + 0.37 * step, np.inf, 500.0)
        got = found_between(shapes.torus_patch(u, v - 150, np.inf, 500.0, 3.0), target)
        errors.append(got.fill / 179_460.0 - 1)
    assert abs(errors[2]) < 6e-4
    assert 14 < errors[0] / errors[2] < 18


def curved(kind: str, x: Floats, y: Floats, below: Floats | float) -> Surface:
    """Four smooth shapes of 500 mm radius and more, set in by ``below``."""
    makers: dict[str, Callable[..., Surface]] = {
        "sphere": lambda: shapes.sphere_patch(x, y, 700.0, below),
        "cylinder": lambda: shapes.torus_patch(x, y, np.inf, 500.0, below),
        "saddle": lambda: shapes.saddle_patch(x, y, 600.0, below),
        "torus": lambda: shapes.torus_patch(x, y, 600.0, 500.0, below),
    }
    return makers[kind]()


def measures(kind: str, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
    """Area for each unit of the parameters and the two curvatures (positive: crowned), textbook geometry."""
    one = np.ones_like(x)
    if kind == "sphere":  # gnomonic angles: area R^2 sec^2 a sec^2 b / (1 + tan^2 a + tan^2 b)^(3/2)
        a, b = np.tan(x / 700), np.tan(y / 700)
        return (1 + a * a) * (1 + b * b) / (1 + a * a + b * b) ** 1.5, one / 700, one / 700
    if kind == "cylinder":
        return one, one / 500, 0 * one
    if kind == "torus":
        out = 600 + 500 * np.cos(y / 500)
        return out / 1100, one / 500, np.cos(y / 500) / out
    p, q = x / 600, -y / 600  # a height function z: area sqrt(w), K = (rt - s^2) / w^2, 2H from its trace
    w = 1 + p * p + q * q
    mean2 = -((1 + q * q) / 600 - (1 + p * p) / 600) / w**1.5
    gauss = -1 / 600**2 / w**2
    root = np.sqrt(mean2**2 / 4 - gauss)
    return np.sqrt(w), mean2 / 2 + root, mean2 / 2 - root


@pytest.mark.parametrize("kind", ["sphere", "cylinder", "saddle", "torus"])
def test_dents_in_smooth_shapes_within_3_per_mille(kind: str) -> None:
    # A spherical-cap dent and a cosine bump on each shape, at 1 mm spacing; target of other tessellation, 1.3 mm.
    # Summed within each dent's own mouth: outside, two tessellations differ by their facets' sag.
    def low(x: Floats, y: Floats) -> Floats:
        return shapes.cap_dent(x, y, (-20.0, 0.0), 45.0, 3.0)

    def high(x: Floats, y: Floats) -> Floats:
        return -shapes.cosine_dent(x, y, (55.0, 20.0), (20.0, 20.0), 2.0)

    x, y = square(160.0, 1.0, middle=True)
    target_x, target_y = square(195.0, 1.3, middle=True)
    panel = curved(kind, x, y, low(x, y) + high(x, y))
    got = found_between(panel, curved(kind, target_x, target_y, 0.0))
    fine_x, fine_y = square(160.0, 0.1, middle=True)
    for depth in (low, high):
        mine = (depth(x, y).ravel()[panel.triangles] != 0).any(axis=1)[got.sheets.parent]
        exact = set_in_volume(depth(fine_x, fine_y), 0.1, *measures(kind, fine_x, fine_y))
        assert got.volumes.signed_mm3[mine].sum() == pytest.approx(exact, rel=3e-3)


def test_shared_facets_within_a_ten_thousandth() -> None:
    # Panel and target of the same crowned facets; the dent is in height, so the prisms' heights are exact:
    # volume = sum of plan area x mean height (exact for linear heights, textbook).
    x, y = square(120.0, 2.0, middle=True)
    crown = -(x**2 + y**2) / (2 * 900.0)
    low = shapes.cosine_dent(x, y, (0.0, 0.0), (45.0, 40.0), 4.0)
    panel, target = shapes.sheet(x, y, crown - low), shapes.sheet(x, y, crown)
    exact = float((0.5 * 2.0**2 * low.ravel()[target.triangles].mean(axis=1)).sum())
    assert found_between(panel, target).fill == pytest.approx(exact, rel=1e-4)
