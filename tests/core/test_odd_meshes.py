"""Meshes that are sound but do not fit one another: planned as far as it goes and said, or refused as no overlap.

Sources: areas and volumes by geometry and calculus; exit status 3 for no overlap as README states it.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import integrate

from core.surface.surface import Surface
from tests.core.command_line import dented, plan, refused, run, save, target, tree_of
from tests.core.shapes import grid_points, sheet


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    return save(dented(), tmp_path / "panel.ply"), save(target(), tmp_path / "target.stl")


@pytest.mark.parametrize("shift", [(0.0, 0.0, 500.0), (5000.0, 0.0, 0.0), (0.0, 0.0, -23.0)])
def test_no_overlap(tmp_path: Path, meshes: tuple[Path, Path], shift: tuple[float, float, float]) -> None:
    far = save(Surface(target().vertices + np.array(shift), target().triangles), tmp_path / "far.stl")
    before = tree_of(tmp_path)
    refused(run("plan", meshes[0], far, "--out", tmp_path / "out", "--quiet"), 3, "do not lie on one another", "line")
    assert tree_of(tmp_path) == before


def test_a_target_inside_out_turns_the_panel_and_says_so(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """The target's side is taken at its word: the same dent seen from behind is as high as it was low."""
    over = target().turned(np.ones(len(target().triangles), dtype=bool))
    right = plan(*meshes, tmp_path / "right")
    found = plan(meshes[0], save(over, tmp_path / "over.stl"), tmp_path / "out")
    assert right["warnings"] == []
    assert any("turned to match" in text for text in found["warnings"])
    assert found["panel"]["condition"]["turned"]
    assert found["cut_volume_mm3"] == pytest.approx(right["fill_volume_mm3"], rel=1e-6)
    assert found["fill_volume_mm3"] == 0


def test_a_panel_inside_out_changes_nothing_but_a_warning(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    over = dented().turned(np.ones(len(dented().triangles), dtype=bool))
    found = plan(save(over, tmp_path / "over.ply"), meshes[1], tmp_path / "out")
    assert found["fill_volume_mm3"] == pytest.approx(plan(*meshes, tmp_path / "right")["fill_volume_mm3"], rel=1e-9)
    assert any("turned to match" in text for text in found["warnings"])


def test_panel_equals_target(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    found = plan(meshes[0], meshes[0], tmp_path / "out")
    assert found["areas"] == []
    assert found["fill_volume_mm3"] == found["cut_volume_mm3"] == found["material"]["packs"] == 0
    assert any("same surface" in text for text in found["warnings"])
    assert (tmp_path / "out" / "fill.stl").stat().st_size == 84  # a binary STL of no triangles


def test_a_target_smaller_than_the_panel_leaves_the_rest_unjudged(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """A shape of 60 x 90 mm over a panel of 120 x 90 mm: half, and what lies over its very edge."""
    x, y = np.meshgrid([30.0, 90.0], [0.0, 90.0], indexing="ij")
    found = plan(meshes[0], save(sheet(x, y, 0 * x), tmp_path / "small.stl"), tmp_path / "out")
    assert found["judged_share"] == pytest.approx(0.5, abs=0.03)
    assert found["area_mm2"]["not_judged"] == pytest.approx(0.5 * 120 * 90, rel=0.06)
    assert found["points"]["not_judged"]["past_edge"] + found["points"]["not_judged"]["too_far"] > 0
    assert any("covers 5" in text and "not measured" in text for text in found["warnings"])


def test_a_hole_in_the_middle_of_the_shape_is_not_filled_over_and_is_said(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    """The dent's deepest part lies under a hole of the finished shape: nothing is known there, and the plan must not
    give 0.9 mm as the deepest of a dent of 2 mm without a word."""
    x, y = grid_points(180.0, 150.0, 3.0)
    shape = sheet(x - 30, y - 30, 0 * x)
    middle = shape.vertices[shape.triangles].mean(axis=1)
    holed = shape.part(np.hypot(middle[:, 0] - 60, middle[:, 1] - 45) > 15)
    found = plan(meshes[0], save(holed, tmp_path / "holed.ply"), tmp_path / "out")
    hole = 180 * 150 - holed.area
    assert found["area_mm2"]["not_judged"] == pytest.approx(hole, rel=0.2)
    whole = plan(*meshes, tmp_path / "whole")
    # What is left of the cosine dent outside r = 15 of 30: 2 pi r (1 + cos(pi r / 30)) summed (calculus).
    r = np.linspace(15, 30, 4001)
    ring = integrate.trapezoid(2 * np.pi * r * (1 + np.cos(np.pi * r / 30)), r)
    assert found["fill_volume_mm3"] < ring * 1.02 < whole["fill_volume_mm3"]
    assert any("Low 1" in text and "not measured" in text for text in found["warnings"])


def test_a_hole_in_the_middle_of_the_panel_is_left_open(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    panel = dented()
    middle = panel.vertices[panel.triangles].mean(axis=1)
    holed = panel.part(np.hypot(middle[:, 0] - 60, middle[:, 1] - 45) > 12)
    found = plan(save(holed, tmp_path / "holed.ply"), meshes[1], tmp_path / "out")
    assert found["panel"]["area_mm2"] == pytest.approx(holed.area)
    assert found["areas"][0]["reaches_rim"] is True
    # A flat target: the enclosed volume is that of the prisms that are left (exact, to the sheet's own triangles).
    a, b, c = holed.corners
    flat = np.abs(holed.area_vectors[:, 2])
    prisms = float((flat * -(a + b + c)[:, 2] / 3).sum())
    assert found["enclosed"]["fill_mm3"] == pytest.approx(prisms, rel=1e-5)
