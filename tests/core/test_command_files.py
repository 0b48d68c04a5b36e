"""The main job's files on the tailgate sample, read back by others; its print-out, and its help.

Sources: trimesh, pyvista (VTK's readers) and csv as other readers of the same files; geometry for areas and volumes.
"""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvista
import trimesh

from core.bench.materials import load
from core.legend.legend import legend
from core.settings import Settings
from tests.core.command_line import plan, run

ROOT = Path(__file__).parents[2]
SCAN, SHAPE = (ROOT / "sample_meshes" / name for name in ("tailgate_scan.ply", "tailgate_shape.stl"))
FILES = ("plan.json", "panel-map.ply", "fill.stl", "areas.csv", "legend.svg")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("sample")
    plan(SCAN, SHAPE, out)
    return out


@pytest.fixture(scope="module")
def record(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"), parse_constant=pytest.fail)


def map_of(folder: Path) -> tuple[trimesh.Trimesh, np.ndarray]:
    mesh = trimesh.load(folder / "panel-map.ply", process=False)
    return mesh, mesh.metadata["_ply_raw"]["vertex"]["data"]


def test_the_panel_map_is_read_back_by_trimesh_and_vtk(folder: Path, record: dict[str, Any]) -> None:
    mesh, data = map_of(folder)
    vtk = pyvista.read(folder / "panel-map.ply")
    assert len(mesh.vertices) == vtk.n_points == record["panel"]["vertices"]
    assert len(mesh.faces) == vtk.n_cells == record["panel"]["triangles"]
    assert np.allclose(vtk.points, mesh.vertices, atol=1e-4)
    # The panel is where it was: the same points, in another order, in the single precision of the file.
    came = trimesh.load(SCAN, process=False).vertices
    here, there = (np.round(v[np.lexsort(np.round(v, 3).T)], 3) for v in (mesh.vertices, came))
    assert np.allclose(here, there, atol=2e-3)

    depth, label = np.asarray(data["depth_mm"]).ravel(), np.asarray(data["area"]).ravel()
    assert int(np.isfinite(depth).sum()) == record["points"]["judged"]
    assert set(label) == set(range(len(record["areas"]) + 1))
    share = np.bincount(mesh.faces.ravel(), np.repeat(mesh.area_faces / 3, 3), minlength=len(mesh.vertices))
    assert np.bincount(label, share)[1:] == pytest.approx([a["area_mm2"] for a in record["areas"]], rel=1e-4)
    assert float(np.sqrt(np.mean(depth**2))) == pytest.approx(record["depth_mm"]["rms"], rel=1e-5)
    for place, area in enumerate(record["areas"], start=1):
        mean = float((depth * share)[label == place].sum() / share[label == place].sum())
        assert np.sign(mean) == (1 if area["kind"] == "low" else -1)


def test_the_panel_map_has_the_legends_colours(folder: Path) -> None:
    mesh, data = map_of(folder)
    depth = np.asarray(data["depth_mm"], dtype=np.float64).ravel()
    colour = pyvista.read(folder / "panel-map.ply")["RGBA"]
    assert (colour == mesh.visual.vertex_colors).all()
    assert (colour[:, 3] == 255).all()
    steps = legend(0.25, 3.2).steps[:-1]
    edges = np.array([step.low_mm for step in steps[1:]])
    clear = np.abs(depth[:, None] - edges).min(axis=1) > 1e-6  # single precision may not tell an edge's side
    row = np.array([sum(d > edge for edge in edges) for d in depth[clear]])
    assert (np.array([step.colour for step in steps])[row] == colour[clear, :3]).all()
    assert len(np.unique(row)) >= 8  # the sample shows most of the legend


def test_the_fill_is_one_closed_shell_a_low(folder: Path, record: dict[str, Any]) -> None:
    shells = trimesh.load(folder / "fill.stl").split(only_watertight=False)
    lows = [area for area in record["areas"] if area["kind"] == "low"]
    assert len(shells) == len(lows)
    assert all(shell.is_watertight and shell.is_winding_consistent for shell in shells)
    volumes = sorted((shell.volume for shell in shells), reverse=True)
    assert volumes == pytest.approx([area["volume_mm3"] for area in lows], rel=1e-5)
    whole = pyvista.read(folder / "fill.stl").clean()
    assert whole.n_open_edges == 0
    assert whole.volume == pytest.approx(record["fill_volume_mm3"], rel=1e-5)


def test_areas_csv_says_what_plan_json_says(folder: Path, record: dict[str, Any]) -> None:
    with (folder / "areas.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(record["areas"])
    for row, area in zip(rows, record["areas"], strict=True):
        assert set(area) <= set(row)
        for key, value in area.items():
            if key == "deepest_point_mm":
                assert [float(v) for v in row[key].split()] == pytest.approx(value, abs=6e-4)
            else:
                assert row[key] == str(value)


def test_two_runs_leave_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    plan(SCAN, SHAPE, tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(FILES)
    for name in FILES:
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_as_a_program_of_its_own_from_a_shell(folder: Path, tmp_path: Path) -> None:
    """python -W error: no warning of any library reaches the user either."""
    words = ("plan", os.path.relpath(SCAN, ROOT), os.path.relpath(SHAPE, ROOT), "--out", tmp_path / "new" / "out")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "core", *map(str, words)], cwd=ROOT, capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    assert (tmp_path / "new" / "out" / "plan.json").read_bytes() == (folder / "plan.json").read_bytes()
    out = done.stdout.decode()
    for words_wanted in ("Low 1", "Low 2", "Low 3", "High 1", "cm³", "bring the metal up first", *FILES):
        assert words_wanted in out
    bar = done.stderr.decode().split("\r")
    shares = [int(found[1]) for step in bar if (found := re.search(r"(\d+)%", step))]
    assert shares == sorted(shares)
    assert shares[0] == 0
    assert shares[-1] == 100


def test_quiet_prints_nothing_and_the_bar_is_kept_out_of_the_output(tmp_path: Path) -> None:
    ran = run("plan", SCAN, SHAPE, "--out", tmp_path)
    assert ran.status == 0
    assert ran.err.endswith("\n")
    assert "%" in ran.err
    assert "\r" not in ran.out
    quiet = run("plan", SCAN, SHAPE, "--out", tmp_path / "two", "--quiet")
    assert (quiet.status, quiet.out, quiet.err) == (0, "", "")


def test_help_is_there_for_every_setting_and_needs_no_files() -> None:
    ran = run("plan", "--help")
    assert (ran.status, ran.err) == (0, "")
    for option in (
        "--panel-unit", "--target-unit", "--out", "--work-area", "--finish-mm", "--material", "--materials", "--risk",
        "--true-mm", "--reach-mm", "--lay-sigma-mm", "--lay-correlation-mm", "--surfacer-mm",
        "--line-up-uncertainty-mm", "--scan-error-mm", "--scan-error-length-mm", "--settings", "--quiet",
    ):
        assert re.search(rf"^  {option} ?[A-Z]*( |$)", ran.out, re.MULTILINE), option
    assert all(name in " ".join(ran.out.split()) for name in load())
    # A default that the help names is the default.
    flat = " ".join(ran.out.split())
    for name, value in Settings().as_dict().items():
        option = "--" + name.replace("_", "-")
        if isinstance(value, float) and f" {option} " in flat:
            told = re.search(rf" {option} [A-Z]+ [^(]*\(([0-9.]+)", flat.split("options:")[1])
            assert told, option
            assert float(told[1]) == value, option
