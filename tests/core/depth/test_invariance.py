"""The same answer wherever the pair lies, in whatever order, unit and fineness it comes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from core.files.mesh_file import read
from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import found_between


def pair(step: float = 2.0, target_step: float = 2.6) -> tuple[Surface, Surface]:
    """A crowned panel with a dent, a bump and a shallow wave, and its target of other facets."""
    x, y = (g - 35 for g in shapes.grid_points(70.0, 70.0, step))
    low = shapes.cosine_dent(x, y, (5.0, -8.0), (24.0, 20.0), 4.0) - shapes.cosine_dent(
        x, y, (-18.0, 20.0), (12.0, 12.0), 1.0)
    wide_x, wide_y = (g - 45.5 for g in shapes.grid_points(91.0, 91.0, target_step))
    return shapes.sphere_patch(x, y, 600.0, low), shapes.sphere_patch(wide_x, wide_y, 600.0)


def test_a_hundred_rigid_motions() -> None:
    # Volumes and depths do not change with the frame: turns of any kind, shifts up to 100 m.
    panel, target = pair()
    here = found_between(panel, target)
    rng = np.random.default_rng(100)
    for reach in np.repeat([1.0, 1e3, 1e4, 1e5], 25):
        turn, shift = Rotation.random(random_state=rng).as_matrix(), rng.uniform(-reach, reach, 3)
        there = found_between(shapes.moved(panel, turn, shift), shapes.moved(target, turn, shift))
        assert there.fill == pytest.approx(here.fill, rel=1e-8)
        assert there.cut == pytest.approx(here.cut, rel=1e-6)
        np.testing.assert_allclose(there.depth.depth_mm, here.depth.depth_mm, atol=1e-8)


def test_flange_and_crease_under_rigid_motions() -> None:
    # A wall at right angles to the skin: whether it agrees must not hang on rounding. Roof with a mitred corner.
    u = np.arange(-30.0, 31, 3)
    panel = shapes.roof(u, np.arange(0.0, 31, 3), 90.0, 2.0)
    target = shapes.roof(np.arange(-45.0, 46, 9), np.arange(-9.0, 46, 9), 90.0)
    exact = 30 * (60 * 2.0 + 2.0**2)  # a mitred prism, by hand
    rng = np.random.default_rng(2)
    for _ in range(20):
        turn, shift = Rotation.random(random_state=rng).as_matrix(), rng.uniform(-1e4, 1e4, 3)
        got = found_between(shapes.moved(panel, turn, shift), shapes.moved(target, turn, shift))
        assert got.fill == pytest.approx(exact, rel=1e-7)


def test_any_order_of_vertices_and_triangles() -> None:
    panel, target = pair()
    here = found_between(panel, target)
    rng = np.random.default_rng(8)
    for _ in range(5):
        mixed, row = shapes.shuffled(panel, rng)
        there = found_between(mixed, shapes.shuffled(target, rng)[0])
        assert there.fill == pytest.approx(here.fill, rel=1e-12)
        assert there.cut == pytest.approx(here.cut, rel=1e-9)
        np.testing.assert_allclose(there.depth.depth_mm[row], here.depth.depth_mm, atol=1e-12)


def test_creased_pair_in_any_order() -> None:
    panel = shapes.roof(np.arange(-30.0, 31, 3), np.arange(0.0, 31, 3), 70.0, 2.0)
    target = shapes.roof(np.arange(-45.0, 46, 9), np.arange(-9.0, 46, 9), 70.0)
    here, rng = found_between(panel, target), np.random.default_rng(9)
    for _ in range(5):
        there = found_between(shapes.shuffled(panel, rng)[0], shapes.shuffled(target, rng)[0])
        assert there.fill == pytest.approx(here.fill, rel=1e-12)


def test_both_turned_over_swaps_fill_and_cut() -> None:
    # By definition of the sign.
    panel, target = pair()
    here, over = found_between(panel, target), found_between(
        *(s.turned(np.ones(len(s.triangles), dtype=bool)) for s in (panel, target)))
    np.testing.assert_allclose(over.depth.depth_mm, -here.depth.depth_mm, atol=1e-12)
    assert over.fill == pytest.approx(here.cut, rel=1e-9)
    assert over.cut == pytest.approx(here.fill, rel=1e-9)


@settings(max_examples=25)
@given(st.floats(0.01, 100.0))
def test_size_scales_as_a_cube(scale: float) -> None:
    # Geometry has no length of its own but the rules' 0.2 and 0.02 mm, which do not bite here.
    panel, target = pair(5.0, 6.5)
    here = found_between(panel, target)
    big = [Surface(s.vertices * scale, s.triangles) for s in (panel, target)]
    assert found_between(*big, reach_mm=20 * scale).fill == pytest.approx(here.fill * scale**3, rel=1e-7)


def written(path: Path, points: Floats, triangles: Floats) -> Path:
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in points.tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (triangles + 1).tolist()]
    path.write_text("\n".join(lines) + "\n")
    return path


def test_inches_against_millimetres(tmp_path: Path) -> None:
    # 25.4 mm to the inch (definition of 1959). Written and read as a user would.
    panel, target = pair()
    both = []
    for unit, size in (("mm", 1.0), ("in", 25.4)):
        files = [written(tmp_path / f"{k}-{unit}.obj", s.vertices / size, s.triangles)
                 for k, s in enumerate((panel, target))]
        both.append(found_between(*(read(file, unit, "mesh").surface for file in files)))
    assert both[1].fill == pytest.approx(both[0].fill, rel=1e-10)
    assert both[1].cut == pytest.approx(both[0].cut, rel=1e-8)


@pytest.mark.parametrize("target_step", [0.5, 13.0])
def test_target_much_finer_or_coarser_than_the_panel(target_step: float) -> None:
    # A flat-topped roof shape has no sag whatever its facets: a plane, tilted, cut 0.5 to 13 mm.
    x, y = (g - 35 for g in shapes.grid_points(70.0, 70.0, 2.0))
    low = shapes.cosine_dent(x, y, (5.0, -8.0), (24.0, 20.0), 4.0)
    wide_x, wide_y = (g - 45.5 for g in shapes.grid_points(91.0, 91.0, target_step))
    tilt = Rotation.from_euler("xyz", [0.3, -0.7, 1.1]).as_matrix()
    flat = [shapes.sheet(x, y, -low), shapes.sheet(wide_x, wide_y, 0 * wide_x)]
    got = found_between(*(shapes.moved(s, tilt, np.zeros(3)) for s in flat))
    heights = low.ravel()[flat[0].triangles].mean(axis=1)  # linear heights over triangles: exact (textbook)
    assert got.fill == pytest.approx(float(2.0 * heights.sum()), rel=1e-9)


def test_crowned_panel_under_a_target_ten_times_as_fine() -> None:
    # Steiner's formula on a sphere, R = 600: A (t - t^2/R + t^3/3R^2), with the panel's sag of second order.
    x, y = (g - 35 for g in shapes.grid_points(70.0, 70.0, 5.0))
    wide_x, wide_y = (g - 40 for g in shapes.grid_points(80.0, 80.0, 0.5))
    got = found_between(shapes.sphere_patch(x, y, 600.0, 3.0), shapes.sphere_patch(wide_x, wide_y, 600.0))
    area = shapes.sphere_patch(wide_x[10:-10, 10:-10], wide_y[10:-10, 10:-10], 600.0).area
    assert got.fill == pytest.approx(area * (3 - 9 / 600 + 27 / (3 * 600**2)), rel=3e-4)


def test_points_asked_a_few_at_a_time_or_all_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    panel, target = pair()
    whole = found_between(panel, target).depth
    monkeypatch.setattr("core.depth.depth._AT_A_TIME", 37)
    parts = found_between(panel, target).depth
    for name in ("depth_mm", "reason", "feet", "foot_normals", "triangle"):
        np.testing.assert_array_equal(getattr(whole, name), getattr(parts, name))
