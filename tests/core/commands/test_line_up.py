"""The command line-up, and plan --line-up: files in any unit and frame, mesh out, figures beside it."""

from __future__ import annotations

import json

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core.place.motion import Motion
from core.surface.surface import Surface
from tests.core.command_line import Ran, plan, refused, run, save, tree_of
from tests.core.place.crowned import odd_panel, odd_shape
from tests.core.place.pierced import pierced
from tests.core.shapes import lidded

AWAY = Motion(Rotation.from_rotvec([1.2, -0.7, 2.0]).as_matrix(), np.array([1000.0, -200, 500]))
PANEL = odd_panel(5.0)
PICKED = [0, 40, 60 * 41, 61 * 41 - 1, 30 * 41 + 20]  # the corners and the middle, 61 x 41 points
UNITS = ("--panel-unit", "mm", "--target-unit", "mm")
DENT_MM3 = np.pi * 40 * 40 * 3 * (0.5 - 2 / np.pi**2)  # calculus, see shapes.cosine_dent


@pytest.fixture
def files(tmp_path):
    """The scan in a frame of its own, the shape, and the matching points, each 3 mm wrong."""
    off = np.random.default_rng(0).standard_normal((5, 3))
    off *= 3 / np.linalg.norm(off, axis=1, keepdims=True)
    picked = np.concatenate([AWAY.of(PANEL.vertices[PICKED]) + off, PANEL.vertices[PICKED]], axis=1)
    np.savetxt(tmp_path / "points.txt", picked, header="scan, shape")
    return (save(AWAY.surface(PANEL), tmp_path / "scan.ply"), save(odd_shape(3.0), tmp_path / "shape.stl"),
            tmp_path / "points.txt")


def record(path):
    return json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("landmarks", [True, False])
def test_the_scan_is_written_where_it_belongs(files, tmp_path, landmarks):
    scan, shape, points = files
    words = ("--landmarks", points) if landmarks else ()
    ran = run("line-up", scan, shape, *UNITS, *words, "--out", tmp_path / "here.ply")
    assert ran.status == 0, ran
    assert "scan.ply lies on the finished shape within 0.0" in ran.out
    placed = np.asarray(trimesh.load(tmp_path / "here.ply", process=False).vertices)
    from scipy.spatial import cKDTree

    distance, _ = cKDTree(placed).query(PANEL.vertices)
    assert distance.max() < 0.1
    figures = record(tmp_path / "here.ply")
    assert figures["format"] == "fillwright.line-up"
    matrix = np.array(figures["matrix"])
    there = trimesh.transform_points(AWAY.of(PANEL.vertices), matrix)
    assert np.abs(there - PANEL.vertices).max() < 0.1
    assert (figures["sureness"] is None) == landmarks
    assert figures["noise"]["sigma_mm"] == pytest.approx(0.03, rel=0.15)
    assert figures["residual_mm"] == pytest.approx(0.03, rel=0.15)
    assert 0.6 < figures["sound_share"] < 0.95
    # 0.03 mm a point over 2000 points is worth about 0.002 mm, some times that at the corners (FACTS 7).
    assert 0.0005 < figures["uncertainty_mm"]["rms"] < figures["uncertainty_mm"]["max"] < 0.02


def test_what_is_left_out_or_turned_over_is_told(files, tmp_path):
    """Sheet metal scanned from both sides onto a solid shape: what is written is its outer side, and that is said."""
    both = Surface(*lidded(Surface(PANEL.vertices - [0, 0, 0.8], PANEL.triangles), 0.8))
    shape = odd_shape(3.0)
    solid = Surface(*lidded(Surface(shape.vertices - [0, 0, 2.0], shape.triangles), 2.0))
    scan, body = save(AWAY.surface(both), tmp_path / "both.ply"), save(solid, tmp_path / "solid.ply")
    ran = run("line-up", scan, body, *UNITS, "--landmarks", files[2], "--out", tmp_path / "here.ply")
    assert ran.status == 0, ran
    assert "scanned from both sides" in ran.out
    placed = trimesh.load(tmp_path / "here.ply", process=False)
    assert placed.area == pytest.approx(PANEL.area, rel=1e-3)
    assert (placed.face_normals @ [0, 0, 1] > 0).all()


def test_a_scan_in_metres_with_y_up(files, tmp_path):
    """A glTF is in metres; its axes differ."""
    y_up = Surface(PANEL.vertices[:, [0, 2, 1]] * [1, 1, -1], PANEL.triangles)
    save(y_up, tmp_path / "scan.glb", 1 / 1000)
    ran = run("line-up", tmp_path / "scan.glb", files[1], "--target-unit", "mm", "--out", tmp_path / "here.stl")
    assert ran.status == 0, ran
    figures = record(tmp_path / "here.stl")
    assert figures["panel"]["unit"] == "m"
    np.testing.assert_allclose(np.array(figures["matrix"])[:3, :3], [[1, 0, 0], [0, 0, -1], [0, 1, 0]], atol=2e-3)
    low, high = trimesh.load(tmp_path / "here.stl").bounds
    np.testing.assert_allclose([low[:2], high[:2]], [[0, 0], [300, 200]], atol=0.1)


def test_landmarks_are_in_their_own_files_units(files, tmp_path):
    table = np.loadtxt(files[2]) / [25.4, 25.4, 25.4, 10, 10, 10]
    np.savetxt(tmp_path / "mixed.txt", table, delimiter=",")
    save(AWAY.surface(PANEL), tmp_path / "scan.stl", 1 / 25.4)
    save(odd_shape(3.0), tmp_path / "shape.obj", 1 / 10)
    ran = run("line-up", tmp_path / "scan.stl", tmp_path / "shape.obj", "--panel-unit", "in", "--target-unit", "cm",
              "--landmarks", tmp_path / "mixed.txt", "--out", tmp_path / "here.ply", "--quiet")
    assert ran == Ran(0, "", "")
    there = trimesh.transform_points(AWAY.of(PANEL.vertices), np.array(record(tmp_path / "here.ply")["matrix"]))
    assert np.abs(there - PANEL.vertices).max() < 0.1


def test_parts_are_set_aside_by_number(files, tmp_path):
    block = (np.abs(PANEL.vertices[:, 0] - 150) < 30) & (np.abs(PANEL.vertices[:, 1] - 40) < 30)
    raised = Surface(PANEL.vertices + 6.0 * block[:, None] * np.array([0, 0, 1.0]), PANEL.triangles)
    scan = save(raised, tmp_path / "handle.ply")
    (tmp_path / "aside.txt").write_text("\n".join(map(str, np.flatnonzero(block))))
    words = ("line-up", scan, files[1], *UNITS, "--quiet", "--out")
    assert run(*words, tmp_path / "a.ply", "--aside", tmp_path / "aside.txt") == Ran(0, "", "")
    matrix = np.array(record(tmp_path / "a.ply")["matrix"])
    assert np.abs(trimesh.transform_points(PANEL.vertices, matrix) - PANEL.vertices).max() < 0.1
    share = record(tmp_path / "a.ply")["sound_share"]
    assert share < 1 - 60 * 60 / (300 * 200)


def test_holes_and_rims_locate_a_near_flat_panel(tmp_path):
    """From 8 mm off along itself: by its surface alone it stays millimetres off, by hole and rim it comes home."""
    panel, shape = pierced(4.0, 0.05, dent_mm=3.0), save(pierced(5.0), tmp_path / "shape.ply")
    scan = save(Surface(panel.vertices + [6.0, -5.0, 2.0], panel.triangles), tmp_path / "scan.ply")
    corners = np.array([[0, 0], [400, 0], [0, 280], [400, 280]])
    rows = [int(np.argmin(np.linalg.norm(panel.vertices[:, :2] - corner, axis=1))) for corner in corners]
    wrong = np.array([4.0, -4.0, 0])  # clicked 5.7 mm off, all the same way
    np.savetxt(tmp_path / "points.txt", np.concatenate(
        [panel.vertices[rows] + [6.0, -5.0, 2.0] + wrong, panel.vertices[rows]], axis=1))
    words = ("line-up", scan, shape, *UNITS, "--landmarks", tmp_path / "points.txt", "--out", tmp_path / "here.ply")

    def off():
        matrix = np.array(record(tmp_path / "a.ply")["matrix"])
        return np.abs(trimesh.transform_points(panel.vertices + [6.0, -5.0, 2.0], matrix) - panel.vertices).max()

    words = (*words[:-1], tmp_path / "a.ply")
    assert run(*words).status == 0
    assert off() > 2.0
    assert record(tmp_path / "a.ply")["located_by"] is None
    ran = run(*words, "--locate", "holes", "--locate", "rims", "--locate-mm", "0.2")
    assert ran.status == 0, ran
    assert off() < 0.1
    assert "Located by 1 of 1 holes and 13" in ran.out
    assert record(tmp_path / "a.ply")["located_by"]["holes"] == 1


@pytest.mark.parametrize(("words", "told"), [
    (("--locate", "screws"), "holes"), (("--locate", "holes", "--locate-mm", "0"), "--locate-mm"),
    (("--locate-mm", "nan"), "--locate-mm"),
])
def test_locating_that_can_t_be_is_refused(files, tmp_path, words, told):
    refused(run("line-up", *files[:2], *UNITS, *words, "--out", tmp_path / "x.ply", "--quiet"), 2, told)


def test_a_plan_sets_parts_aside_and_locates_too(files, tmp_path):
    block = (np.abs(PANEL.vertices[:, 0] - 150) < 30) & (np.abs(PANEL.vertices[:, 1] - 40) < 30)
    (tmp_path / "aside.txt").write_text("\n".join(map(str, np.flatnonzero(block))))
    made = plan(*files[:2], tmp_path / "a", *UNITS, "--line-up", "--aside", tmp_path / "aside.txt", "--locate", "edges")
    whole = plan(*files[:2], tmp_path / "b", *UNITS, "--line-up")
    gone = whole["line_up"]["sound_share"] - made["line_up"]["sound_share"]
    assert gone == pytest.approx(60 * 60 / (300 * 200), rel=0.25)
    # The shape is 10 mm larger all around: its rims are not the scan's, and are left out again.
    assert made["line_up"]["located_by"] is None
    assert any(text.startswith("no edge locates the panel") for text in made["warnings"])
    refused(run("plan", *files[:2], *UNITS, "--aside", tmp_path / "no.txt", "--out", tmp_path / "c", "--quiet"), 2,
            "--aside: there is no file")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 0 0 1 1 1\n1 0 0 2 1 1\n", "it holds 2 pairs of points"),
        ("0 0 0 1 1 1\n1 0 0 2 1\n0 1 0 1 2 1", "line 2 holds 5 numbers"),
        ("0 0 0 1 1 1\n1 0 0 2 1 1\n2 0 0 3 1 1", "on one line"),
        ("0 0 0 0 0 0\n9 0 0 -9 0 0\n0 9 0 0 9 0\n0 0 9 0 0 9", "only as a mirror image"),
        ("a b c d e f\n" * 3, "line 1 is not six numbers"),
    ],
)
def test_landmark_files_that_can_t_serve(files, tmp_path, text, words):
    (tmp_path / "bad.txt").write_text(text)
    before = tree_of(tmp_path)
    words_in = ("--landmarks", tmp_path / "bad.txt", "--out", tmp_path / "x.ply", "--quiet")
    refused(run("line-up", *files[:2], *UNITS, *words_in), 2, words)
    assert tree_of(tmp_path) == before


def test_files_that_are_not_there_and_names_that_can_t_be_written(files, tmp_path):
    before = tree_of(tmp_path)
    words = ("line-up", *files[:2], *UNITS, "--quiet")
    refused(run(*words, "--landmarks", tmp_path / "no.txt", "--out", tmp_path / "x.ply"), 2, "no.txt")
    refused(run(*words, "--out", tmp_path / "x.obj"), 2, ".ply or .stl")
    assert tree_of(tmp_path) == before


@pytest.mark.calibration
def test_the_other_side_s_panel_is_refused(files, tmp_path):
    mirrored = save(Surface(PANEL.vertices * [-1, 1, 1], PANEL.triangles[:, ::-1]), tmp_path / "left.ply")
    refused(run("line-up", mirrored, files[1], *UNITS, "--out", tmp_path / "x.ply", "--quiet"), 2, "mirror image")


@pytest.mark.parametrize("landmarks", [True, False])
def test_a_plan_with_line_up_is_the_plan_of_a_scan_that_lay_there(files, tmp_path, landmarks):
    """Volumes agree within their stated uncertainty, and with the dent by calculus; the map replaces the 0.05 mm."""
    scan, shape, points = files
    there = plan(save(PANEL, tmp_path / "there.ply"), shape, tmp_path / "a", *UNITS)
    words = ("--landmarks", points) if landmarks else ("--line-up",)
    lined = plan(scan, shape, tmp_path / "b", *UNITS, *words)
    one, other = (made["areas"] for made in (there, lined))
    assert [a["kind"] for a in one] == [a["kind"] for a in other] == ["low"]
    (before, before_u95), (volume, u95) = ((a[0]["volume_mm3"], a[0]["volume_u95_mm3"]) for a in (one, other))
    assert abs(volume - DENT_MM3) < u95
    assert abs(volume - before) < np.hypot(u95, before_u95)
    assert u95 < 0.3 * before_u95  # 0.05 mm over the dent's area, two times, is far more than the noise
    assert u95 < 0.03 * DENT_MM3
    assert lined["line_up"]["held_directions"] >= 5
    assert "line_up" not in there or there["line_up"] is None


def test_paint_on_the_shape_is_not_lined_up_away(files, tmp_path):
    """A bare scan lies 0.2 mm under a painted shape: lined up or not, the fill is the dent's, by calculus."""
    bare = Surface(PANEL.vertices - 0.2 * PANEL.vertex_normals, PANEL.triangles)
    there = save(bare, tmp_path / "there.ply")
    away = save(AWAY.surface(bare), tmp_path / "away.ply")
    for scan, words in ((there, ()), (away, ("--line-up",)), (away, ("--landmarks", files[2]))):
        made = plan(scan, files[1], tmp_path / "out", *UNITS, "--finish-mm", "0.2", *words)
        (area,) = made["areas"]
        assert area["kind"] == "low"
        assert area["volume_mm3"] == pytest.approx(DENT_MM3, rel=0.03)
    words = ("line-up", away, files[1], *UNITS, "--finish-mm", "0.2", "--out", tmp_path / "here.ply", "--quiet")
    assert run(*words) == Ran(0, "", "")
    there = trimesh.transform_points(AWAY.of(bare.vertices), np.array(record(tmp_path / "here.ply")["matrix"]))
    assert np.abs(np.sum((there - bare.vertices) * PANEL.vertex_normals, axis=1)).max() < 0.03
    refused(run(*words, "--finish-mm", "nan"), 2, "--finish-mm", "nan mm came")


@pytest.mark.parametrize("wrong_mm", [20.0, 40.0, 100.0])
def test_a_point_clicked_far_off_is_told(files, tmp_path, wrong_mm):
    table = np.loadtxt(files[2])[:4]
    table[1, 3:] += wrong_mm * np.array([0.6, 0.8, 0])
    np.savetxt(tmp_path / "wrong.txt", table)
    ran = run("line-up", *files[:2], *UNITS, "--landmarks", tmp_path / "wrong.txt", "--out", tmp_path / "x.ply")
    assert "! the matching points do not match: pair" in ran.out or ran.status == 2
