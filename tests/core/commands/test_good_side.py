"""The command good-side: the mirrored body out, the plane and how symmetric it is beside it."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from core.place.motion import Motion
from tests.core.command_line import Ran, plan, refused, run, save, tree_of
from tests.core.place.test_symmetry import AWAY, MIDDLE, bonnet, degrees

STEP_MM = 12.0


@pytest.fixture
def body(tmp_path):
    return save(bonnet(STEP_MM, 0.03), tmp_path / "bonnet.stl")


def call(body, out, *words):
    return run("good-side", body, "--body-unit", "mm", "--out", out, *words)


def record(path):
    return json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))


def check_plane(figures) -> None:
    """In the body's own frame: the truth, within the project's limits."""
    normal, offset = np.array(figures["plane"]["normal"]), figures["plane"]["offset_mm"]
    assert degrees(normal, AWAY.rotation[:, 0]) < 0.02
    assert np.abs(AWAY.of(MIDDLE) @ normal - offset).max() < 0.05


def test_the_mirrored_body_lies_over_the_pushed_in_side(body, tmp_path):
    ran = call(body, tmp_path / "shape.ply")
    assert ran.status == 0, ran
    assert "bonnet.stl is its own mirror image within 0.0" in ran.out
    check_plane(record(tmp_path / "shape.ply"))
    assert record(tmp_path / "shape.ply")["off_mm_95"] == pytest.approx(1.96 * np.sqrt(2) * 0.03, rel=0.15)
    mirrored = trimesh.load(tmp_path / "shape.ply", process=False)
    true = bonnet(STEP_MM, 0.0, away=Motion(np.eye(3), np.zeros(3))).vertices * [-1, 1, 1]
    true = true[true[:, 0] > 0]  # the pushed-in side, to which the good one is mirrored; the good side is left out
    assert AWAY.inverse().of(np.asarray(mirrored.vertices))[:, 0].min() > -2 * STEP_MM
    distance, _ = cKDTree(np.asarray(mirrored.vertices)).query(AWAY.of(true))
    assert distance.max() < 0.3  # noise and the plane's 0.05 mm, twice
    up = AWAY.rotation[:, 2]
    assert (mirrored.face_normals @ up).mean() > 0.9


def test_the_plan_against_it_finds_what_was_pushed_in(body, tmp_path):
    """One low on the pushed side of pi a b d (1/2 - 2/pi^2) (calculus), and no work on the good side."""
    call(body, tmp_path / "shape.ply", "--quiet")
    made = plan(body, tmp_path / "shape.ply", tmp_path / "plan", "--panel-unit", "mm", "--target-unit", "mm",
                "--reach-mm", 40)
    volume = np.pi * 230 * 190 * 30 * (0.5 - 2 / np.pi**2)
    large = [a for a in made["areas"] if a["volume_mm3"] > 0.1 * volume]
    assert [a["kind"] for a in large] == ["low"]
    # Set in along z, measured along the normal: the same volume, but for the mesh of 12 mm.
    assert large[0]["volume_mm3"] == pytest.approx(volume, rel=0.02)


def test_three_points_in_the_body_s_unit(tmp_path):
    body = save(bonnet(STEP_MM, 0.03), tmp_path / "bonnet.ply", 1 / 25.4)
    points = AWAY.of(MIDDLE + [[6, 0, 200], [-5, 0, 0], [3, 0, 0]]) / 25.4
    np.savetxt(tmp_path / "plane.txt", points)
    ran = run("good-side", body, "--body-unit", "in", "--plane", tmp_path / "plane.txt", "--out", tmp_path / "s.ply",
              "--quiet")
    assert ran == Ran(0, "", "")
    check_plane(record(tmp_path / "s.ply"))


def test_the_good_side_may_be_named(body, tmp_path):
    """A point on the pushed-in side: then that side is the one mirrored."""
    spot = AWAY.of(np.array([[400.0, 300, 0]]))[0]
    assert call(body, tmp_path / "s.ply", "--good", *spot, "--quiet") == Ran(0, "", "")
    mirrored = trimesh.load(tmp_path / "s.ply", process=False)
    assert AWAY.inverse().of(np.asarray(mirrored.vertices))[:, 0].max() < 2 * STEP_MM


def test_two_panels(tmp_path):
    whole = bonnet(10.0, 0.03)
    x = AWAY.inverse().of(whole.vertices[whole.triangles].mean(axis=1))[:, 0]
    good, bad = (save(whole.part(side), tmp_path / name)
                 for side, name in ((x < -200, "good.ply"), (x > 200, "bad.ply")))
    ran = call(good, tmp_path / "s.ply", "--partner", bad)
    assert ran.status == 0, ran
    mirrored = trimesh.load(tmp_path / "s.ply", process=False)
    assert AWAY.inverse().of(np.asarray(mirrored.vertices))[:, 0].min() > 190


@pytest.mark.parametrize(
    ("text", "words"),
    [("0 0 0\n1 1 1\n2 2 2", "not on one line"), ("0 0 0\n0 0 0\n0 0 0", "not on one line"),
     ("1 2\n3 4\n", "three numbers"), ("", "is empty"), ("0 0 0\n1 1 x\n2 2 2", "three numbers"),
     ("0 0 0\n100 0 0", "not on one line")],
)
def test_points_that_make_no_plane_are_refused(body, tmp_path, text, words):
    (tmp_path / "plane.txt").write_text(text)
    before = tree_of(tmp_path)
    refused(call(body, tmp_path / "s.ply", "--plane", tmp_path / "plane.txt", "--quiet"), 2, words)
    assert tree_of(tmp_path) == before


def test_parts_set_aside(tmp_path):
    surface = bonnet(STEP_MM, 0.0)
    body = save(surface, tmp_path / "b.ply")
    local = AWAY.inverse().of(surface.vertices)
    badge = np.flatnonzero((np.abs(local[:, 0] + 500) < 120) & (np.abs(local[:, 1] - 600) < 200))
    (tmp_path / "aside.txt").write_text("\n".join(map(str, badge)))
    assert call(body, tmp_path / "s.ply", "--aside", tmp_path / "aside.txt", "--quiet") == Ran(0, "", "")
    check_plane(record(tmp_path / "s.ply"))
