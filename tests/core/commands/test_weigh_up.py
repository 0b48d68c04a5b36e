"""The command weigh-up: a table, a JSON and a CSV with the same figures."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import numpy as np
import pytest

from core.place.motion import small
from core.surface.surface import Surface
from tests.core.command_line import Ran, dented, plan, refused, run, save, target, tree_of
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, sheet
from tests.seeds import seeds


@pytest.fixture
def meshes(tmp_path):
    """A dented sheet, its shape, and a version of it 1 mm higher."""
    flat = target()
    higher = Surface(flat.vertices + [0, 0, 1.0], flat.triangles)
    return (save(dented(), tmp_path / "panel.ply"), save(flat, tmp_path / "first.stl"),
            save(higher, tmp_path / "second.stl"))


def call(meshes, out, *words):
    return run("weigh-up", *meshes, "--panel-unit", "mm", "--shapes-unit", "mm", "--out", out, *words)


def test_json_and_csv_hold_what_a_plan_of_each_says(meshes, tmp_path):
    assert call(meshes, tmp_path / "versions.json", "--quiet") == Ran(0, "", "")
    record = json.loads((tmp_path / "versions.json").read_text())
    assert record["format"] == "fillwright.weigh-up"
    assert [row["name"] for row in record["shapes"]] == ["first.stl", "second.stl"]
    for row, shape in zip(record["shapes"], meshes[1:], strict=True):
        alone = plan(meshes[0], shape, tmp_path / shape.stem, "--panel-unit", "mm", "--target-unit", "mm")
        assert row["fill_mm3"] == pytest.approx(alone["fill_volume_mm3"], rel=1e-9)
    # 1 mm more over 120 x 90 mm, by hand.
    low, high = (row["fill_mm3"] for row in record["shapes"])
    assert high - low == pytest.approx(120 * 90, rel=0.02)
    with (tmp_path / "versions.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    texts = [{**row, "warnings": ". ".join(row["warnings"])} for row in record["shapes"]]
    assert [{name: str(value) for name, value in row.items()} for row in texts] == rows


def test_the_table_names_each_shape_with_its_figures(meshes, tmp_path):
    ran = call(meshes, tmp_path / "versions.json")
    first = json.loads((tmp_path / "versions.json").read_text())["shapes"][0]
    heading, one, other = ran.out.splitlines()[:3]
    for word in ("fill", "high", "deepest", "laid", "buy", "too deep", "rough out"):
        assert word in heading
    assert one.startswith("first.stl")
    assert f"{first['fill_mm3'] / 1000:.1f} cm³" in one
    assert other.startswith("second.stl")


def test_half_a_shape_is_not_listed_without_a_word(meshes, tmp_path):
    """It is the cheapest of all, for it covers only a part: the share and the plan's own warning must stand there."""
    part = sheet(*np.meshgrid([-50.0, 70.0], [-50.0, 140.0], indexing="ij"), np.zeros((2, 2)))
    half = save(part, tmp_path / "half.stl")
    ran = call((*meshes[:2], half), tmp_path / "versions.json")
    rows = json.loads((tmp_path / "versions.json").read_text())["shapes"]
    alone = plan(meshes[0], half, tmp_path / "alone", "--panel-unit", "mm", "--target-unit", "mm")
    assert rows[0]["warnings"] == []
    assert rows[1]["warnings"] == alone["warnings"]
    for text in alone["warnings"]:
        assert f"! half.stl: {text}" in ran.out.splitlines()
    _, whole, halved = ran.out.splitlines()[:3]
    assert float(halved.split()[-2].rstrip("%")) == pytest.approx(100 * 70 / 120, abs=2)  # 70 of 120 mm
    assert "judged" not in whole


def test_rough_is_marked_rough(meshes, tmp_path):
    ran = call(meshes, tmp_path / "versions.json", "--rough")
    assert ran.out.startswith("Rough: on thinned meshes\n")
    record = json.loads((tmp_path / "versions.json").read_text())
    assert record["rough"] is True
    assert all(row["rough"] for row in record["shapes"])


def test_two_shapes_of_one_name_are_both_weighed(meshes, tmp_path):
    """Versions are often kept as a/door.stl and b/door.stl."""
    shapes = []
    for folder, path in (("a", meshes[1]), ("b", meshes[2])):
        (tmp_path / folder).mkdir()
        shapes.append(tmp_path / folder / "door.stl")
        shapes[-1].write_bytes(Path(path).read_bytes())
    assert call((meshes[0], *shapes), tmp_path / "versions.json", "--quiet").status == 0
    rows = json.loads((tmp_path / "versions.json").read_text())["shapes"]
    assert len(rows) == 2
    assert rows[1]["fill_mm3"] > rows[0]["fill_mm3"]
    assert rows[0]["name"] != rows[1]["name"]


def test_materials_change_the_mass_and_not_the_volume(meshes, tmp_path):
    call(meshes, tmp_path / "a.json", "--quiet")
    call(meshes, tmp_path / "b.json", "--material", "tin-lead-40-60", "--quiet")
    a, b = (json.loads((tmp_path / name).read_text())["shapes"][0] for name in ("a.json", "b.json"))
    assert a["fill_mm3"] == b["fill_mm3"]
    # Densities from mass fractions (FACTS 1): 9.720 and 9.278.
    assert b["finished_mass_g"] / a["finished_mass_g"] == pytest.approx(9.278 / 9.720, rel=5e-3)


def test_other_endings_and_shapes_that_lie_apart_are_refused(meshes, tmp_path):
    before = tree_of(tmp_path)
    refused(call(meshes, tmp_path / "versions.txt", "--quiet"), 2, ".json")
    assert tree_of(tmp_path) == before
    far = Surface(target().vertices + [0, 0, 900], target().triangles)
    save(far, tmp_path / "far.stl")
    ran = call((meshes[0], tmp_path / "far.stl"), tmp_path / "versions.json", "--quiet")
    refused(ran, 3, "line the scan up first")
    assert not (tmp_path / "versions.json").exists()


@pytest.mark.parametrize("seed", seeds(6, 2))
def test_whatever_a_plan_goes_by_it_is_weighed_by_too(seed, tmp_path):
    """One way to plan: work area, settings, material and line-up of either command give the same figures."""
    rng = np.random.default_rng(seed)
    x, y = grid_points(160.0, 110.0, 2.5)
    shape = sheet(x, y, odd(x, y))
    dents = sum(cosine_dent(x, y, tuple(rng.uniform([20, 20], [140, 90])), (18, 18), rng.uniform(0.8, 3))
                for _ in range(3))
    panel = sheet(x, y, odd(x, y) - dents)
    words = ["--material", str(rng.choice(["polyester", "lead-free"])), "--lay-sigma-mm", rng.uniform(0.1, 0.6),
             "--reach-mm", rng.uniform(8, 30), "--risk", rng.uniform(0.01, 0.2), "--panel-unit", "mm"]
    if seed % 2:
        panel = small(rng.normal(0, 0.02, 3), rng.normal(0, 2.0, 3)).surface(panel)
        words.append("--line-up")
    if seed % 3:
        (tmp_path / "area.txt").write_text(" ".join(map(str, np.flatnonzero(x.ravel() < 90))))
        words += ["--work-area", tmp_path / "area.txt"]
    scan, target_ = save(panel, tmp_path / "panel.ply"), save(shape, tmp_path / "shape.ply")
    alone = plan(scan, target_, tmp_path / "plan", "--target-unit", "mm", *words)
    call = run("weigh-up", scan, target_, "--shapes-unit", "mm", "--out", tmp_path / "v.json", "--quiet", *words)
    assert call == Ran(0, "", "")
    (row,) = json.loads((tmp_path / "v.json").read_text())["shapes"]
    same = {"fill_mm3": alone["fill_volume_mm3"], "fill_u95_mm3": alone["fill_volume_u95_mm3"],
            "high_mm3": alone["cut_volume_mm3"], "laid_mass_g": alone["material"]["laid_mass_g"],
            "packs": alone["material"]["packs"], "judged_share": alone["judged_share"], "warnings": alone["warnings"]}
    assert {name: row[name] for name in same} == same
    assert alone["fill_volume_mm3"] > 0
