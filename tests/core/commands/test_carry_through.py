"""The command carry-through: the mesh, its figures, its words, and what it refuses."""

from __future__ import annotations

import json

import numpy as np
import pytest

from core.shape.carry_through import carry_through
from core.surface.surface import Surface
from tests.core.command_line import Ran, refused, run, save, tree_of
from tests.core.real_scan import real_scan
from tests.core.shapes import grid_points, noise_field, roof, sheet, sphere_patch

X, Y = (each - 100 for each in grid_points(200, 160, 2.5))
Y = Y + 20
MASK = np.hypot(X - 10, Y) < 25


def panel(sigma=0.03):
    noise = noise_field(X.shape, 2.5, 0.0, sigma, np.random.default_rng(0))
    return sphere_patch(X, Y, 700.0, 4.0 * MASK - noise)


def numbers(path, rows):
    path.write_text("# damaged\n" + "\n".join(str(row) for row in rows) + "\n")
    return path


@pytest.fixture
def files(tmp_path):
    return save(panel(), tmp_path / "panel.ply"), numbers(tmp_path / "mask.txt", np.flatnonzero(MASK))


def written(path):
    import trimesh

    mesh = trimesh.load(path, process=False)
    return np.asarray(mesh.vertices)


def test_the_shape_is_written_in_the_panel_s_place(files, tmp_path):
    out = tmp_path / "shape.ply"
    assert run("carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--out", out, "--quiet") == Ran(
        0, "", "")
    points = written(out)
    off = np.linalg.norm(points + [0, 0, 700], axis=1) - 700
    inside = np.hypot(points[:, 0] - 10, points[:, 1]) < 20
    assert inside.sum() > 100
    assert np.abs(off[inside]).max() < 0.06  # where the panel lies 4 mm lower
    record = json.loads((tmp_path / "shape.json").read_text())
    assert record["format"] == "fillwright.carry-through"
    assert record["places"] == len(record["degrees"]) == 1
    assert record["moved_mm"]["up"] == pytest.approx(4.0, abs=0.15)
    assert record["panel"]["file"] == "panel.ply"
    assert record["warnings"] == []
    # The figures are the function's own, on the same metal in another order.
    assert record["trust_mm_95"] == pytest.approx(carry_through(panel(), MASK.ravel()).trust_mm, rel=0.5)


def test_it_says_what_was_done_and_what_it_is_worth(files, tmp_path):
    ran = run("carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--out", tmp_path / "shape.stl")
    assert ran.status == 0
    trust = json.loads((tmp_path / "shape.json").read_text())["trust_mm_95"]
    assert f"1 damaged place carried through; right within {trust:.2f} mm (95 %), going by" in ran.out
    assert str(tmp_path / "shape.stl") in ran.out


def test_other_units_give_the_same_shape(files, tmp_path):
    """The same panel in inches, 25.4 mm each: the mesh is written in mm all the same."""
    inches = save(panel(), tmp_path / "inches.ply", 1 / 25.4)
    for name, mesh, unit in (("a", files[0], "mm"), ("b", inches, "in")):
        out = tmp_path / f"{name}.ply"
        run("carry-through", mesh, "--panel-unit", unit, "--mask", files[1], "--out", out, "--quiet")
    a, b = (written(tmp_path / f"{name}.ply") for name in "ab")
    order = [np.lexsort(np.round(each[:, :2], 1).T) for each in (a, b)]
    np.testing.assert_allclose(a[order[0]], b[order[1]], atol=2e-3)


def test_a_crease_is_read_in_the_panel_s_unit(tmp_path):
    made = roof(np.linspace(-80, 80, 65), np.linspace(0, 160, 65), 40.0)
    place = made.vertices.copy()
    dented = np.hypot(place[:, 0], place[:, 1] - 80) < 25
    place[dented, 2] -= 5.0
    mesh = save(Surface(place, made.triangles), tmp_path / "roof.ply", 0.1)  # in cm
    mask = numbers(tmp_path / "mask.txt", np.flatnonzero(dented))
    line = tmp_path / "crease.txt"
    line.write_text("# top of the roof, in cm\n0 0 0\n0, 16, 0\n")
    out = tmp_path / "shape.ply"
    ran = run("carry-through", mesh, "--panel-unit", "cm", "--mask", mask, "--crease", line, "--out", out, "--quiet")
    assert ran == Ran(0, "", "")
    x, _, z = written(out).T
    np.testing.assert_allclose(z, -np.abs(x) * np.tan(np.radians(20)), atol=1e-3)


def test_a_rim_is_warned_of(files, tmp_path):
    mask = numbers(tmp_path / "rim.txt", np.flatnonzero(np.hypot(X - 100, Y) < 20))
    ran = run("carry-through", files[0], "--panel-unit", "mm", "--mask", mask, "--out", tmp_path / "a.ply")
    assert ran.status == 0
    assert "! damaged place 1 reaches the panel's edge" in ran.out


@pytest.mark.parametrize(("rows", "words"), [
    (range(X.size), "whole panel is marked"), ([], "marks no point"), ([X.size], "no vertex"),
    (["x"], "no vertex number"),
])
def test_masks_that_can_t_serve_are_refused_in_one_sentence(files, tmp_path, rows, words):
    before = tree_of(tmp_path)
    mask = numbers(tmp_path / "mask.txt", rows)
    ran = run("carry-through", files[0], "--panel-unit", "mm", "--mask", mask, "--out", tmp_path / "a.ply", "--quiet")
    refused(ran, 2, words)
    assert set(tree_of(tmp_path)) == set(before)


def test_a_crease_that_is_no_line_is_refused_in_one_sentence(files, tmp_path):
    line = tmp_path / "crease.txt"
    for text in ("0 0 0\n", "0 0\n1 1\n", "a b c\n", "0 0 nan\n1 1 1\n"):
        line.write_text(text)
        ran = run("carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--crease", line,
                  "--out", tmp_path / "a.ply", "--quiet")
        refused(ran, 2, "crease")


def test_a_crease_with_its_points_all_in_one_place_ends_in_a_sentence_or_a_shape(files, tmp_path):
    line = tmp_path / "crease.txt"
    line.write_text("10 0 0\n10 0 0\n")
    ran = run("carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--crease", line,
              "--out", tmp_path / "a.ply", "--quiet")
    if ran.status:
        refused(ran, 2, "crease")
    else:
        assert np.isfinite(written(tmp_path / "a.ply")).all()


def test_an_ending_that_is_not_written_is_refused_and_nothing_left(files, tmp_path):
    before = tree_of(tmp_path)
    refused(run("carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--out", tmp_path / "a.obj",
                "--quiet"), 2, ".ply or .stl")
    assert tree_of(tmp_path) == before


# Without --mask the damage is suggested.


def low_panel(sigma=0.03):
    """A sphere with one low, whose suggestion has sound metal all around it."""
    noise = noise_field(X.shape, 2.5, 0.0, sigma, np.random.default_rng(0))
    return sphere_patch(X, Y, 700.0, 4.0 * np.exp(-(np.hypot(X - 10, Y) / 12) ** 2 / 2) - noise)


def test_without_a_mask_the_damage_is_suggested_and_its_marks_are_written(tmp_path):
    mesh, out = save(low_panel(), tmp_path / "panel.ply"), tmp_path / "shape.ply"
    ran = run("carry-through", mesh, "--panel-unit", "mm", "--out", out)
    assert ran.status == 0
    record = json.loads((tmp_path / "shape.json").read_text())
    assert record["places"] == 1
    assert record["suggested"]["marks"] == "shape-marks.txt"
    area = record["suggested"]["area_mm2"]
    assert np.pi * 25**2 < area < np.pi * 65**2  # out to 0.25 mm deep it is 28 mm in radius
    assert f"Damage suggested from the curvature: 1 place, {area / 100:.0f} cm²" in ran.out
    assert "! the damage was suggested from the curvature, not marked by you: look at shape-marks.txt" in ran.out
    assert record["warnings"][-1].startswith("the damage was suggested")
    assert str(tmp_path / "shape-marks.txt") in ran.out
    points = written(out)
    off = np.linalg.norm(points + [0, 0, 700], axis=1) - 700
    assert np.abs(off[np.hypot(points[:, 0] - 10, points[:, 1]) < 25]).max() < 0.1


def test_the_suggested_marks_given_as_a_mask_give_the_same_shape(tmp_path):
    """The file counts as PANEL's file does, whose vertices are there twice here, in another order than core's."""
    made = low_panel()
    doubled = Surface(np.repeat(made.vertices, 2, axis=0), 2 * made.triangles + np.array([0, 1, 0]))
    mesh = save(doubled, tmp_path / "panel.ply")
    assert run("carry-through", mesh, "--panel-unit", "mm", "--out", tmp_path / "a.ply", "--quiet") == Ran(0, "", "")
    again = run("carry-through", mesh, "--panel-unit", "mm", "--mask", tmp_path / "a-marks.txt",
                "--out", tmp_path / "b.ply", "--quiet")
    assert again == Ran(0, "", "")
    assert (tmp_path / "a.ply").read_bytes() == (tmp_path / "b.ply").read_bytes()
    assert "suggested" not in json.loads((tmp_path / "b.json").read_text())
    assert not (tmp_path / "b-marks.txt").exists()


def test_a_panel_without_damage_asks_for_a_mask_and_nothing_is_written(tmp_path):
    mesh = save(sphere_patch(X, Y, 700.0), tmp_path / "panel.ply")
    before = tree_of(tmp_path)
    refused(run("carry-through", mesh, "--panel-unit", "mm", "--out", tmp_path / "a.ply", "--quiet"), 2,
            "no damage stands out", "--mask")
    assert tree_of(tmp_path) == before


def test_the_help_tells_of_the_suggestion():
    assert "suggested from the panel's\ncurvature" in run("carry-through", "--help").out


@pytest.mark.calibration
def test_a_scan_of_no_panel_ends_in_one_sentence_or_a_shape(tmp_path):
    """A real scan of a body with ears and feet (see real_scan)."""
    mesh = save(real_scan(), tmp_path / "body.ply")
    ran = run("carry-through", mesh, "--panel-unit", "mm", "--out", tmp_path / "a.ply", "--quiet")
    if ran.status:
        refused(ran, 2, "give the marks as --mask")
    else:
        assert np.isfinite(written(tmp_path / "a.ply")).all()


def swage(x, y):
    """A swage 5 mm high and 24 mm wide, straight through the mask."""
    return 5 * np.where(np.abs(y - 3) < 12, np.cos(np.pi * (y - 3) / 24) ** 2, 0.0)


@pytest.mark.parametrize("refused", [False, True])
def test_a_swage_across_is_continued_unless_refused(tmp_path, refused):
    """The middle stands in the JSON, in mm of the panel's frame, and the line says so."""
    noise = noise_field(X.shape, 2.5, 0.0, 0.03, np.random.default_rng(0))
    height = lambda x, y: -(x**2) / 1500 - y**2 / 900 + swage(x, y)  # noqa: E731
    scan = sheet(X, Y, height(X, Y) - 4.0 * MASK + noise)
    files = save(scan, tmp_path / "panel.ply"), numbers(tmp_path / "mask.txt", np.flatnonzero(MASK))
    out = tmp_path / "shape.ply"
    words = ["carry-through", files[0], "--panel-unit", "mm", "--mask", files[1], "--out", out]
    ran = run(*words, *(["--no-lines"] if refused else []))
    x, y, z = written(out).T
    off = np.abs(z - height(x, y))[np.hypot(x - 10, y) < 20]
    record = json.loads((tmp_path / "shape.json").read_text())
    if refused:
        assert record["lines_mm"] == []
        assert off.max() > 2
        return
    assert off.max() < 0.5
    assert len(record["lines_mm"]) == 1
    assert "1 line across continued (not so with --no-lines)" in ran.out
    assert np.abs(np.array(record["lines_mm"][0])[:, 1] - 3).max() < 2
