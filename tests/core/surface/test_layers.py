"""Layers within 0.3 mm count once; sheets farther apart, or facing the other way, are left alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import Delaunay

from core.errors import InputError
from core.surface.condition import mend
from core.surface.layers import LOOKED, check_single, layers_merged
from core.surface.surface import Surface


def sheet(x0: float = 0, x1: float = 200, step: float = 2.0, lift: float = 0.0, seed: int | None = None,
          noise: float = 0.0, radius: float = 800.0) -> Surface:
    """A patch of a crowned panel 150 mm wide, lifted along its normal; irregular with a ``seed``."""
    nx, ny = round((x1 - x0) / step) + 1, round(150 / step) + 1
    x, y = (a.ravel() for a in np.meshgrid(np.linspace(x0, x1, nx), np.linspace(0, 150, ny), indexing="ij"))
    if seed is not None:
        rng = np.random.default_rng(seed)
        inner = (x > x0) & (x < x1) & (y > 0) & (y < 150)
        x, y = x + inner * rng.uniform(-0.4, 0.4, x.size) * step, y + inner * rng.uniform(-0.4, 0.4, y.size) * step
        lift = lift + noise * rng.normal(size=x.size)  # type: ignore[assignment]
    triangles = Delaunay(np.stack([x, y], 1)).simplices.astype(np.int64)
    normal = np.stack([x - 100, y - 75, np.sqrt(radius**2 - (x - 100) ** 2 - (y - 75) ** 2)], 1) / radius
    made = Surface(normal * (radius + np.asarray(lift)).reshape(-1, 1), triangles)
    return made.turned(made.normals[:, 2] < 0)


def joined(*parts: Surface) -> Surface:
    starts = np.cumsum([0] + [len(p.vertices) for p in parts])
    return Surface(np.concatenate([p.vertices for p in parts]),
                   np.concatenate([p.triangles + s for p, s in zip(parts, starts, strict=False)]))


ONE = sheet().area  # the area wanted is always that of the one sheet


def test_two_full_layers_count_once() -> None:
    made, condition = mend(joined(sheet(), sheet(lift=0.1)), "panel")
    assert made.area == pytest.approx(ONE, rel=0.01)
    assert condition.layers_mended_area_mm2 == pytest.approx(ONE, rel=0.01)
    assert any("layers" in note for note in condition.notes)


def test_two_layers_of_other_meshing_and_noise_count_once() -> None:
    # Scanner noise of 0.03 mm on both; the mesh and its points differ all over.
    both = joined(sheet(seed=1, noise=0.03), sheet(step=1.7, lift=0.1, seed=2, noise=0.03))
    made, condition = mend(both, "panel")
    assert condition.layers_mended_area_mm2 > 0.98 * ONE
    assert made.area == pytest.approx(ONE, rel=0.01)


def test_a_patch_that_overlaps_by_half_adds_only_its_free_half() -> None:
    for seed in range(4):
        patch = sheet(150, 250, step=1.6, lift=0.08, seed=seed, noise=0.02)
        made, condition = mend(joined(sheet(seed=9, noise=0.02), patch), "panel")
        whole = sheet(0, 250).area
        assert condition.pieces == 2
        # No bias at the seam: well under half a triangle's width (0.8 mm of 250, 0.3 %) is left or missing.
        assert made.area == pytest.approx(whole, rel=0.0025)


def test_three_layers_count_once() -> None:
    made, condition = mend(joined(sheet(seed=1), sheet(lift=0.1, seed=2), sheet(lift=-0.12, seed=3)), "panel")
    assert made.area == pytest.approx(ONE, rel=0.01)
    assert condition.layers_mended_area_mm2 == pytest.approx(2 * ONE, rel=0.01)


def test_sweeps_in_a_row_that_overlap_count_once() -> None:
    sweeps = [sheet(60 * k, 60 * k + 90, step=1.5, lift=0.05 * (-1) ** k, seed=k, noise=0.02) for k in range(4)]
    made, _ = mend(joined(*sweeps), "panel")
    assert made.area == pytest.approx(sheet(0, 270).area, rel=0.005)


def test_exact_copies_are_dropped_as_duplicates() -> None:
    whole = sheet()
    part = whole.part(whole.vertices[whole.triangles].mean(axis=1)[:, 0] > 20)
    made, condition = mend(joined(whole, part, whole), "panel")
    assert made.area == pytest.approx(ONE, rel=1e-12)
    assert condition.duplicates == len(whole.triangles) + len(part.triangles)


def test_copies_with_other_diagonals_are_refused() -> None:
    whole = sheet()
    turn = Surface(whole.vertices * [-1, 1, 1], whole.triangles[:, ::-1])  # the same points, diagonals mirrored
    with pytest.raises(InputError, match="hang together"):
        mend(joined(whole, turn), "panel")


@pytest.mark.parametrize("gap", [3.0, 6.0, 1.0])
def test_an_inner_skin_is_left_alone(gap: float) -> None:
    outer = sheet()
    for inner in (sheet(lift=-gap), sheet(lift=-gap).turned(np.ones(len(outer.triangles), dtype=bool))):
        made, condition = mend(joined(outer, inner), "panel")
        assert condition.layers_mended_area_mm2 == 0
        assert made.area == pytest.approx(outer.area + inner.area, rel=1e-12)


def test_sheets_that_face_opposite_ways_are_left_alone() -> None:
    back = sheet(lift=-0.2)
    back = back.turned(np.ones(len(back.triangles), dtype=bool))
    made, condition = mend(joined(sheet(), back), "panel")
    assert condition.layers_mended_area_mm2 == 0
    assert made.area == pytest.approx(sheet().area + back.area, rel=1e-12)


def test_a_neighbour_past_the_rim_is_left_alone() -> None:
    # Side by side with a gap of 0.2 mm: nearer than a layer, yet beside it.
    beside = joined(sheet(0, 100), sheet(100.2, 200.2))
    assert layers_merged(beside)[1] == 0


def strip(turns: int, lift: float, n: int = 60) -> Surface:
    """A tape wound ``turns`` times on itself like a roll, each turn ``lift`` mm over the last: one piece."""
    angle, y = (a.ravel() for a in np.meshgrid(np.linspace(0, 2 * np.pi * turns, n * turns + 1), np.arange(0, 60, 3.0),
                                               indexing="ij"))
    radius = 30 + lift * angle / (2 * np.pi)
    row = np.arange(angle.size).reshape(n * turns + 1, -1)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return Surface(np.stack([radius * np.cos(angle), y, -radius * np.sin(angle)], 1),
                   np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def test_a_piece_that_covers_itself_is_refused() -> None:
    check_single(strip(1, 0.1), "panel")
    check_single(strip(2, 3.0), "panel")
    with pytest.raises(InputError, match=r"panel: about [345]\d% of it or more lies in two layers"):  # truth: 50
        mend(strip(2, 0.1), "panel")


def test_a_large_piece_that_covers_itself_in_part_is_refused() -> None:
    # 160 x 760 quads: more triangles than are all looked at.
    x, y = (a.ravel() for a in np.meshgrid(np.arange(761.0), np.arange(161.0), indexing="ij"))
    row = np.arange(x.size).reshape(761, 161)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    triangles = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    assert len(triangles) > 2 * LOOKED
    turn = 2 * np.pi * x / 700  # 700 mm around, 60 mm over the start again
    radius = 700 / (2 * np.pi) + 0.1 * x / 700
    folded = Surface(np.stack([radius * np.cos(turn), y, -radius * np.sin(turn)], 1), triangles)
    with pytest.raises(InputError, match="hang together"):
        check_single(folded, "panel")
    check_single(folded.part(x[triangles].max(axis=1) < 695), "panel")


def test_sound_panels_are_not_refused() -> None:
    for seed in range(3):
        check_single(sheet(seed=seed, noise=0.1), "panel")
        check_single(sheet(step=1.0, seed=seed, noise=0.1), "panel")
