"""The command build-over: offset, added volume and mass, and first what it costs."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh

from core.bench.materials import pick
from tests.core.command_line import Ran, refused, run, save, tree_of
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

X, Y = grid_points(120, 90, 1.5)


@pytest.fixture
def meshes(tmp_path):
    """A flat panel with a bump of 1 mm, and its flat shape."""
    panel = sheet(X, Y, cosine_dent(X, Y, (60, 45), (24, 24), 1.0))
    return save(panel, tmp_path / "panel.ply"), save(flat_target(120, 90, 30), tmp_path / "shape.stl")


def call(meshes, out, *words):
    return run("build-over", *meshes, "--panel-unit", "mm", "--target-unit", "mm", "--out", out, *words)


@pytest.mark.parametrize("skin", [0.0, 0.5])
def test_offset_volume_and_mass_by_hand(meshes, tmp_path, skin):
    assert call(meshes, tmp_path / "over.ply", "--skin-mm", skin, "--material", "tin-lead-30-70", "--quiet") == Ran(
        0, "", "")
    record = json.loads((tmp_path / "over.json").read_text())
    offset = record["offset_mm"]
    assert offset == pytest.approx(1 + skin, abs=0.03)
    assert record["highest_mm"] == pytest.approx(offset - skin)
    bump = np.pi * 24 * 24 * (0.5 - 2 / np.pi**2)  # calculus, see shapes.cosine_dent
    assert record["fill_mm3"] == pytest.approx(offset * 120 * 90 - bump, rel=2e-3)
    density = pick("tin-lead-30-70", None).density_g_cm3
    assert density == pytest.approx(9.72, rel=0.005)  # FACTS 1, from mass fractions
    assert record["finished_mass_g"] == pytest.approx(record["fill_mm3"] / 1000 * density)
    z = np.asarray(trimesh.load(tmp_path / "over.ply").vertices)[:, 2]
    np.testing.assert_allclose(z, offset, atol=1e-5)


def test_first_of_all_it_says_that_gaps_and_trim_move(meshes, tmp_path):
    ran = call(meshes, tmp_path / "over.ply")
    assert ran.status == 0
    warning = ran.out.splitlines()[0]
    assert "moves gaps and trim" in warning
    assert "highs of bare metal are better tapped down" in warning
    assert json.loads((tmp_path / "over.json").read_text())["warnings"][0] in warning


def test_a_panel_that_faces_the_other_way_is_turned(meshes, tmp_path):
    mesh = trimesh.load(meshes[0], process=False)
    turned = tmp_path / "turned.ply"
    trimesh.Trimesh(mesh.vertices, mesh.faces[:, ::-1], process=False).export(turned)
    call((turned, meshes[1]), tmp_path / "over.ply", "--quiet")
    assert json.loads((tmp_path / "over.json").read_text())["offset_mm"] == pytest.approx(1.0, abs=0.03)


def test_a_shape_that_covers_a_part_only_says_so(meshes, tmp_path):
    """70 of 120 mm: the plan's own words on coverage, and how much of the panel the figures leave out."""
    half = sheet(*np.meshgrid([-50.0, 70.0], [-50.0, 140.0], indexing="ij"), np.zeros((2, 2)))
    ran = call((meshes[0], save(half, tmp_path / "half.stl")), tmp_path / "over.ply")
    record = json.loads((tmp_path / "over.json").read_text())
    covering, unknown = record["warnings"][1:3]
    assert "the finished shape covers" in covering
    assert "are not measured" in unknown
    assert record["not_judged_mm2"] == pytest.approx(50 * 90, rel=0.05)
    for text in record["warnings"]:
        assert f"! {text}" in ran.out.splitlines()
    assert record["still_proud"] == 0


@pytest.mark.parametrize("skin", ["-0.1", "21", "nan"])
def test_skins_that_can_t_be_are_refused(meshes, tmp_path, skin):
    before = tree_of(tmp_path)
    refused(call(meshes, tmp_path / "over.ply", f"--skin-mm={skin}", "--quiet"), 2, "--skin-mm")
    assert tree_of(tmp_path) == before


def test_meshes_that_lie_apart_are_refused(meshes, tmp_path):
    far = sheet(X, Y, 0 * X + 900)
    before = tree_of(tmp_path) | {"far.ply": save(far, tmp_path / "far.ply").read_bytes()}
    refused(call((tmp_path / "far.ply", meshes[1]), tmp_path / "over.ply", "--quiet"), 3, "line the scan up first")
    assert tree_of(tmp_path) == before


def test_an_unknown_material_is_refused(meshes, tmp_path):
    refused(call(meshes, tmp_path / "over.ply", "--material", "butter", "--quiet"), 2, "butter")
