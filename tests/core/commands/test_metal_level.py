"""The command metal-level: the shape set in, written beside its figures."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh

from tests.core.command_line import Ran, plan, refused, run, save, tree_of
from tests.core.shapes import cosine_dent, grid_points, sheet, sphere_patch

X, Y = (each - 90 for each in grid_points(180, 180, 3.0))
RADIUS = 600.0


@pytest.fixture
def shape(tmp_path):
    return save(sphere_patch(X, Y, RADIUS, 0 * X), tmp_path / "shape.ply")


def radii(path):
    return np.linalg.norm(np.asarray(trimesh.load(path, process=False).vertices) + [0, 0, RADIUS], axis=1)


@pytest.mark.parametrize("ending", [".ply", ".stl"])
def test_the_shape_is_set_in_by_the_filler(shape, tmp_path, ending):
    out = tmp_path / f"level{ending}"
    assert run("metal-level", shape, "--target-unit", "mm", "--filler-mm", 2, "--out", out, "--quiet") == Ran(0, "", "")
    np.testing.assert_allclose(radii(out), RADIUS - 2, atol=2e-3)
    record = json.loads((tmp_path / "level.json").read_text())
    assert (record["format"], record["filler_mm"], record["target"]["file"]) == (
        "fillwright.metal-level", 2.0, "shape.ply")


def test_it_says_so(shape, tmp_path):
    ran = run("metal-level", shape, "--target-unit", "mm", "--filler-mm", 1.5, "--out", tmp_path / "level.ply")
    assert ran.out.splitlines() == [
        "shape.ply set in by 1.5 mm", f"Made {tmp_path / 'level.ply'}, {tmp_path / 'level.json'}"]


def test_a_plan_against_it_tells_where_the_metal_must_come_up(shape, tmp_path):
    """A dent of 5 mm: of it 3 mm lie below a level of 2 mm, and all sound metal 2 mm above (by hand)."""
    dent = cosine_dent(X, Y, (0, 0), (60, 60), 5.0)
    panel = save(sphere_patch(X, Y, RADIUS, dent), tmp_path / "panel.ply")
    run("metal-level", shape, "--target-unit", "mm", "--filler-mm", 2, "--out", tmp_path / "level.ply", "--quiet")
    made = plan(panel, tmp_path / "level.ply", tmp_path / "out", "--panel-unit", "mm", "--target-unit", "mm")
    lows = [area for area in made["areas"] if area["kind"] == "low"]
    assert len(lows) == 1
    r = (np.arange(20_000) + 0.5) / 20_000
    d = np.maximum(5 * np.cos(np.pi * r / 2) ** 2, 2)
    layer = (d - 2) - (d**2 - 4) / RADIUS  # from 2 mm down to d under a sphere: integral of (1 - s / R)^2, Steiner
    assert lows[0]["volume_mm3"] == pytest.approx(2 * np.pi * 60 * 60 * (layer * r).mean(), rel=0.02)


@pytest.mark.parametrize("thickness", ["0", "-1", "21", "nan", "inf", "two"])
def test_thicknesses_that_can_t_be_are_refused(shape, tmp_path, thickness):
    before = tree_of(tmp_path)
    ran = run("metal-level", shape, "--target-unit", "mm", f"--filler-mm={thickness}", "--out", tmp_path / "a.ply",
              "--quiet")
    refused(ran, 2, "--filler-mm")
    assert tree_of(tmp_path) == before


def test_a_missing_file_is_refused_in_one_sentence(tmp_path):
    refused(run("metal-level", tmp_path / "none.ply", "--filler-mm", 2, "--out", tmp_path / "a.ply", "--quiet"), 2,
            "none.ply")


def test_a_hem_without_room_is_told(tmp_path):
    """A sheet 2 mm behind another, joined at one edge: there is no room between them for 3 mm each."""
    x, y = grid_points(60, 40, 2.0)
    z = np.where(x <= 30, 0.0, -2.0)
    folded = sheet(np.where(x <= 30, x, 60 - x), y, z)
    shape = save(folded, tmp_path / "hem.ply")
    ran = run("metal-level", shape, "--target-unit", "mm", "--filler-mm", 3, "--out", tmp_path / "level.ply")
    assert "! " in ran.out
    assert "cm² of the shape are folded closer than the filler is thick" in ran.out
    assert json.loads((tmp_path / "level.json").read_text())["warnings"]
