"""The command as-was: the bare shape, the map of the old filler, and its words."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh

from core.files.mesh_file import read
from tests.core.command_line import Ran, refused, run, save, tree_of
from tests.core.shapes import cosine_dent, grid_points, noise_field, sphere_patch

RADIUS, PAINT = 800.0, 0.25
WIDE_X, WIDE_Y = (each - half for each, half in zip(grid_points(240, 200, 4.0), (120, 100), strict=True))
X, Y = (each - half for each, half in zip(grid_points(180, 150, 3.0), (90, 75), strict=True))
CHIP = np.hypot(WIDE_X + 50, WIDE_Y) < 18


def filler(x, y):
    return cosine_dent(x, y, (15, 5), (45, 40), 2.5)


@pytest.fixture
def scans(tmp_path):
    """The old scan, painted and chipped, with the shape under it; the stripped panel with the dent that filler hid."""
    rng = np.random.default_rng(0)
    old = sphere_patch(WIDE_X, WIDE_Y, RADIUS, -PAINT + 0.8 * CHIP + noise_field(X.shape, 3, 0, 0, rng)[0, 0])
    bare = sphere_patch(X, Y, RADIUS, filler(X, Y) - noise_field(X.shape, 3.0, 0.0, 0.03, rng))
    return save(old, tmp_path / "old.ply"), save(bare, tmp_path / "bare.ply")


def call(scans, out, *words):
    return run("as-was", *scans, "--old-unit", "mm", "--stripped-unit", "mm", "--out", out, *words)


def out_of_sphere(points):
    return np.linalg.norm(points + [0, 0, RADIUS], axis=1) - RADIUS


def test_the_map_of_old_filler_is_right_within_the_noise(scans, tmp_path):
    assert call(scans, tmp_path / "was.ply", "--paint-mm", PAINT, "--quiet") == Ran(0, "", "")
    found = read(tmp_path / "was-old-filler.ply", "mm", "map")
    thick = found.properties["old_filler_mm"]
    x, y, z = found.surface.vertices.T
    # Known thickness at the vertex's own place: arcs from the sphere's top are x and y of the patch.
    expected = filler(RADIUS * np.arctan2(x, z + RADIUS), RADIUS * np.arctan2(y, z + RADIUS))
    far_from_chip = np.hypot(x + 50, y) > 25
    off = (thick - expected)[far_from_chip]
    assert np.isfinite(thick).all()
    assert off.std() == pytest.approx(0.03, rel=0.08)  # the stripped scan's own noise
    assert abs(off.mean()) < 0.006
    record = json.loads((tmp_path / "was.json").read_text())
    assert record["old_filler_mm"]["max"] == pytest.approx(2.5, abs=0.12)
    assert record["paint_mm"] == PAINT


def test_paint_comes_off_and_the_chip_is_carried_through(scans, tmp_path):
    bad = tmp_path / "bad.txt"
    bad.write_text(" ".join(str(row) for row in np.flatnonzero(CHIP)))
    ran = call(scans, tmp_path / "was.stl", "--paint-mm", PAINT, "--bad", bad)
    assert ran.status == 0
    assert "0.25 mm of paint taken off" in ran.out
    assert "1 damaged place carried through" in ran.out
    points = np.asarray(trimesh.load(tmp_path / "was.stl").vertices)
    assert np.abs(out_of_sphere(points)).max() < 5e-3
    assert json.loads((tmp_path / "was.json").read_text())["carried"]["places"] == 1


def test_the_chip_stays_where_it_is_not_marked(scans, tmp_path):
    call(scans, tmp_path / "was.ply", "--paint-mm", PAINT, "--quiet")
    assert out_of_sphere(np.asarray(trimesh.load(tmp_path / "was.ply").vertices)).min() < -0.7


def test_a_stripped_scan_that_faces_the_other_way_is_turned(scans, tmp_path):
    mesh = trimesh.load(scans[1], process=False)
    turned = tmp_path / "turned.ply"
    trimesh.Trimesh(mesh.vertices, mesh.faces[:, ::-1], process=False).export(turned)
    ran = call((scans[0], turned), tmp_path / "was.ply", "--paint-mm", PAINT)
    assert ran.status == 0
    assert json.loads((tmp_path / "was.json").read_text())["old_filler_mm"]["max"] == pytest.approx(2.5, abs=0.12)
    assert "! " in ran.out  # it is said


def test_scans_that_lie_apart_end_in_one_sentence(scans, tmp_path):
    """Two scans in two frames: there is no map, and the command must say so rather than write an empty one."""
    mesh = trimesh.load(scans[1], process=False)
    far = tmp_path / "far.ply"
    trimesh.Trimesh(mesh.vertices + [0, 0, 900], mesh.faces, process=False).export(far)
    before = tree_of(tmp_path)
    refused(call((scans[0], far), tmp_path / "was.ply", "--quiet"), 3, "line")
    assert tree_of(tmp_path) == before


@pytest.mark.parametrize("paint", ["-0.1", "nan", "30"])
def test_a_paint_that_can_t_be_is_refused(scans, tmp_path, paint):
    before = tree_of(tmp_path)
    refused(call(scans, tmp_path / "was.ply", f"--paint-mm={paint}", "--quiet"), 2, "--paint-mm")
    assert tree_of(tmp_path) == before


def test_warnings_of_what_was_carried_through_are_passed_on(scans, tmp_path):
    """A bad spot at the rim is carried on from one side only: as important here as in carry-through."""
    bad = tmp_path / "bad.txt"
    bad.write_text(" ".join(str(row) for row in np.flatnonzero(np.hypot(WIDE_X + 120, WIDE_Y) < 25)))
    ran = call(scans, tmp_path / "was.ply", "--bad", bad)
    told = json.loads((tmp_path / "was.json").read_text())["warnings"]
    assert any("reaches the panel's edge" in text for text in told)
    for text in told:
        assert f"! {text}" in ran.out.splitlines()


def test_a_map_that_can_t_be_written_leaves_nothing_at_all(scans, tmp_path):
    (tmp_path / "was-old-filler.ply").mkdir()
    before = tree_of(tmp_path)
    refused(call(scans, tmp_path / "was.ply", "--quiet"), 2, "output folder")
    assert tree_of(tmp_path) == before
