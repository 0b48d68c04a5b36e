"""Shapes that were made here, through their files: none of them is planned against as if it were exact."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.files.mesh_file import read
from core.place.motion import Motion
from tests.core.command_line import Ran, plan, refused, run, save
from tests.core.place.crowned import odd_panel, odd_shape
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

X, Y = grid_points(450, 350, 5.0)
CROWN = -((X - 225) ** 2) / 2500 - (Y - 175) ** 2 / 1500
NEAR = np.hypot(X - 150, Y - 120) < 50
DENT = cosine_dent(X, Y, (150, 120), (40, 40), 3.0)
PLAN = ("--panel-unit", "mm", "--target-unit", "mm")


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    """A dented scan with noise, and the numbers of its damaged vertices beside it."""
    (tmp_path / "mask.txt").write_text(" ".join(map(str, np.flatnonzero(NEAR))))
    noise = noise_field(X.shape, 5.0, 0.0, 0.03, np.random.default_rng(1))
    return save(sheet(X, Y, CROWN - DENT + noise), tmp_path / "scan.ply")


@pytest.fixture
def odd_scan(tmp_path: Path) -> Path:
    """A dented scan that a line-up holds in all directions."""
    return save(odd_panel(5.0), tmp_path / "odd.ply")


def record(path: Path) -> dict[str, Any]:
    return dict(json.loads(path.with_suffix(".json").read_text(encoding="utf-8")))


def done(*words: object) -> None:
    assert run(*words, "--quiet") == Ran(0, "", "")


def carried(scan: Path, out: Path) -> Path:
    done("carry-through", scan, "--panel-unit", "mm", "--mask", scan.parent / "mask.txt", "--out", out)
    return out


def properties(path: Path) -> tuple[Any, Any, Any]:
    """Vertices, made and trust_mm of a PLY file."""
    reading = read(path, "mm", "shape")
    return reading.surface.vertices, reading.properties["made"] != 0, reading.properties["trust_mm"].astype(float)


def test_carried_through_it_says_where_it_was_made_and_how_well(scan, tmp_path):
    shape = carried(scan, tmp_path / "shape.ply")
    vertices, made, trust = properties(shape)
    assert made.sum() == NEAR.sum()
    assert np.hypot(vertices[made, 0] - 150, vertices[made, 1] - 120).max() < 52
    assert (trust[~made] == 0).all()
    assert (trust[made] > 0).all()
    told = record(shape)["trust"]
    assert told["greatest_mm"] == pytest.approx(trust.max(), rel=1e-6)
    assert told["made_mm2"] == pytest.approx(NEAR.sum() * 25, rel=0.05)
    assert told["unknown_mm2"] == 0
    assert record(shape)["mesh"] == {"file": "shape.ply", "sha256": read(shape, "mm", "shape").sha256}


def test_a_plan_against_it_takes_the_trust_and_the_metals_noise(scan, tmp_path):
    """Outside the mask the shape is the scan, so that depths show no noise and no doubt: both must come in."""
    shape = carried(scan, tmp_path / "shape.ply")
    trust = properties(shape)[2].max()
    found = plan(scan, shape, tmp_path / "plan", *PLAN)
    assert found["warnings"] == []
    assert found["noise"]["source"] == "measured on the metal's own roughness"
    assert found["noise"]["sigma_mm"] == pytest.approx(0.03, rel=0.2)
    # The dent's own area is the least that the trust counts for, the mask's the most; 1.96 of the normal law.
    assert 1.96 * trust * np.pi * 40**2 * 0.8 < found["fill_volume_u95_mm3"]
    noise = 1.96 * 0.03 * np.sqrt(NEAR.sum() * 25 * 25)
    assert found["fill_volume_u95_mm3"] < 1.2 * np.hypot(1.96 * trust * NEAR.sum() * 25, noise)
    stated = plan(scan, shape, tmp_path / "stated", *PLAN, "--scan-error-mm", 0.2, "--scan-error-length-mm", 10)
    assert stated["noise"] == {"sigma_mm": 0.2, "correlation_mm": 10.0, "source": "stated"}
    assert stated["fill_volume_u95_mm3"] > 1.5 * found["fill_volume_u95_mm3"]


def test_weigh_up_takes_it_as_a_plan_does(scan, tmp_path):
    first, second = carried(scan, tmp_path / "a.ply"), carried(scan, tmp_path / "b.stl")
    done("weigh-up", scan, first, second, "--panel-unit", "mm", "--shapes-unit", "mm", "--out", tmp_path / "w.json")
    for row, shape in zip(record(tmp_path / "w.json")["shapes"], (first, second), strict=True):
        alone = plan(scan, shape, tmp_path / shape.stem, *PLAN)
        assert row["fill_u95_mm3"] == alone["fill_volume_u95_mm3"]
        assert row["warnings"] == alone["warnings"]
    done("weigh-up", scan, first, "--rough", "--panel-unit", "mm", "--shapes-unit", "mm", "--out", tmp_path / "r.json")
    rough = record(tmp_path / "r.json")["shapes"][0]
    assert rough["fill_u95_mm3"] == row["fill_u95_mm3"] or rough["fill_u95_mm3"] > 0


def test_an_stl_can_t_hold_it_and_that_is_said(scan, tmp_path):
    shape = carried(scan, tmp_path / "shape.stl")
    warnings = plan(scan, shape, tmp_path / "plan", *PLAN)["warnings"]
    assert "shape.stl was made here (carry-through)" in warnings[0]
    assert ".stl can't hold it" in warnings[0]
    assert warnings[1].startswith("Low 1: how far the finished shape itself may be off")
    (tmp_path / "shape.json").unlink()  # nothing is left that tells it from a design
    assert plan(scan, shape, tmp_path / "again", *PLAN)["warnings"] == []


def test_a_report_of_another_file_is_noticed(scan, tmp_path):
    """Made again as another file, or worked on: what the report says is of something else."""
    shape = carried(scan, tmp_path / "shape.stl")
    other = save(sheet(X, Y, CROWN), tmp_path / "other.stl")
    shape.write_bytes(other.read_bytes())
    assert "shape.json beside it is of another file" in plan(scan, shape, tmp_path / "a", *PLAN)["warnings"][0]
    kept = carried(scan, tmp_path / "kept.ply")
    whole = plan(scan, kept, tmp_path / "b", *PLAN)
    kept.write_bytes(kept.read_bytes().replace(b"end_header", b"comment sculpted\nend_header"))
    changed = plan(scan, kept, tmp_path / "c", *PLAN)
    assert ["kept.json beside kept.ply is of another file" in text for text in changed["warnings"]] == [True]
    assert changed["fill_volume_u95_mm3"] == whole["fill_volume_u95_mm3"]  # its vertices hold it all the same
    (tmp_path / "kept.json").unlink()
    assert plan(scan, kept, tmp_path / "d", *PLAN)["warnings"] == []


def test_a_ply_that_lost_its_properties_is_known_by_its_report(scan, tmp_path):
    shape = carried(scan, tmp_path / "shape.ply")
    save(read(shape, "mm", "shape").surface, shape)
    assert "shape.json beside it is of another file" in plan(scan, shape, tmp_path / "p", *PLAN)["warnings"][0]


@pytest.mark.parametrize("seed", range(3))
def test_set_in_or_moved_out_it_keeps_its_trust(scan, tmp_path, seed):
    """The same vertices, so the same figures at them; and set in again they are there still."""
    shape = carried(scan, tmp_path / "shape.ply")
    deep = np.random.default_rng(seed).uniform(0.5, 3)
    done("metal-level", shape, "--target-unit", "mm", "--filler-mm", deep, "--out", tmp_path / "level.ply")
    again = ("--filler-mm", 0.3, "--out", tmp_path / "two.ply")
    done("metal-level", tmp_path / "level.ply", "--target-unit", "mm", *again)
    done("build-over", scan, shape, *PLAN, "--skin-mm", deep, "--out", tmp_path / "over.ply")
    for name in ("level.ply", "two.ply", "over.ply"):
        for one, other in zip(properties(shape)[1:], properties(tmp_path / name)[1:], strict=True):
            np.testing.assert_array_equal(one, other)


def test_what_was_made_from_a_design_is_as_exact_as_that(scan, tmp_path):
    design = save(sheet(X, Y, CROWN), tmp_path / "design.stl")
    done("metal-level", design, "--target-unit", "mm", "--filler-mm", 1, "--out", tmp_path / "level.ply")
    assert record(tmp_path / "level.ply")["trust"] is None
    done("metal-level", design, "--target-unit", "mm", "--filler-mm", 1, "--out", tmp_path / "level.stl")
    warnings = plan(scan, tmp_path / "level.stl", tmp_path / "p", *PLAN)["warnings"]
    assert all("made here" not in text for text in warnings)


def test_carried_through_twice_both_places_are_kept(scan, tmp_path):
    first = carried(scan, tmp_path / "first.ply")
    vertices, made, trust = properties(first)
    second = np.hypot(vertices[:, 0] - 300, vertices[:, 1] - 200) < 30
    (tmp_path / "second.txt").write_text(" ".join(map(str, np.flatnonzero(second))))
    done("carry-through", first, "--panel-unit", "mm", "--mask", tmp_path / "second.txt", "--out", tmp_path / "two.ply")
    after, both, doubt = properties(tmp_path / "two.ply")
    was = np.hypot(after[:, 0] - 300, after[:, 1] - 200) < 29
    assert (doubt[~both] == 0).all()
    assert both.sum() == made.sum() + second.sum()
    assert both[was].all()
    assert not (doubt[both] == 0).any()


def test_as_it_was_is_known_to_its_paint(tmp_path):
    """0.2 mm of paint, half as thick or half as thin again: evenly spread, the standard deviation is 0.2 / sqrt(12)."""
    rng = np.random.default_rng(2)
    old = save(sheet(X, Y, CROWN + noise_field(X.shape, 5, 0, 0.03, rng)), tmp_path / "old.ply")
    bare = save(sheet(X, Y, CROWN - 0.2 - DENT + noise_field(X.shape, 5, 0, 0.03, rng)), tmp_path / "bare.ply")
    words = ("as-was", old, bare, "--old-unit", "mm", "--stripped-unit", "mm")
    done(*words, "--out", tmp_path / "was.ply")
    _, made, trust = properties(tmp_path / "was.ply")
    assert not made.any()
    np.testing.assert_allclose(trust, 0.2 / np.sqrt(12), rtol=2e-3)
    found = plan(bare, tmp_path / "was.ply", tmp_path / "plan", *PLAN)
    assert found["noise"]["sigma_mm"] == pytest.approx(0.03 * np.sqrt(2), rel=0.2)
    assert found["fill_volume_u95_mm3"] > 1.96 * 0.2 / np.sqrt(12) * np.pi * 40**2 * 0.9
    (tmp_path / "bad.txt").write_text(" ".join(map(str, np.flatnonzero(np.hypot(X - 300, Y - 200) < 30))))
    done(*words, "--bad", tmp_path / "bad.txt", "--out", tmp_path / "mended.ply")
    _, made, trust = properties(tmp_path / "mended.ply")
    assert made.sum() > 50
    assert (trust[made] > 0.2 / np.sqrt(12)).all()


def lined_up(tmp_path: Path, scan: Path, shape: Path) -> Path:
    """The scan taken away and lined up again, from matching points so that it is quick."""
    away = Motion(Rotation.from_rotvec([0.2, -0.1, 0.3]).as_matrix(), np.array([50.0, -20, 30]))
    picked = [0, 40, 60 * 41, 61 * 41 - 1, 30 * 41 + 20]
    panel = read(scan, "mm", "scan").surface
    np.savetxt(tmp_path / "points.txt",
               np.concatenate([away.of(panel.vertices[picked]), panel.vertices[picked]], axis=1))
    there = save(away.surface(panel), tmp_path / "away.ply")
    done("line-up", there, shape, *PLAN, "--landmarks", tmp_path / "points.txt", "--out", tmp_path / "here.ply")
    return tmp_path / "here.ply"


def test_a_plan_of_a_lined_up_file_goes_by_its_covariance(odd_scan, tmp_path):
    """The same as of a plan that lines up itself: file, covariance and all."""
    shape = save(odd_shape(4.0), tmp_path / "shape.stl")
    here = lined_up(tmp_path, odd_scan, shape)
    at_once = plan(tmp_path / "away.ply", shape, tmp_path / "a", *PLAN, "--landmarks", tmp_path / "points.txt")
    later = plan(here, shape, tmp_path / "b", *PLAN)
    assert later["warnings"] == []
    for name in ("fill_volume_mm3", "fill_volume_u95_mm3"):
        assert later[name] == pytest.approx(at_once[name], rel=2e-3)
    done("weigh-up", here, shape, "--panel-unit", "mm", "--shapes-unit", "mm", "--out", tmp_path / "w.json")
    assert record(tmp_path / "w.json")["shapes"][0]["fill_u95_mm3"] == later["fill_volume_u95_mm3"]
    stated = plan(here, shape, tmp_path / "c", *PLAN, "--line-up-uncertainty-mm", 0.5)
    assert stated["fill_volume_u95_mm3"] > 1.9 * 0.5 * np.pi * 40**2


def test_a_lined_up_file_without_its_report_is_not_taken_as_well_placed(odd_scan, tmp_path):
    shape = save(odd_shape(4.0), tmp_path / "shape.stl")
    here = lined_up(tmp_path, odd_scan, shape)
    report = (tmp_path / "here.json").read_text()
    (tmp_path / "here.json").unlink()
    assert "how well is not known" in plan(here, shape, tmp_path / "a", *PLAN)["warnings"][0]
    (tmp_path / "here.json").write_text(report.replace('"sha256": "', '"sha256": "0'))
    assert "is of another file" in plan(here, shape, tmp_path / "b", *PLAN)["warnings"][0]
    told = plan(here, shape, tmp_path / "c", *PLAN, "--line-up-uncertainty-mm", 0.05)
    assert told["warnings"] == []


def test_a_scan_that_was_lined_up_as_the_shape_carries_that(odd_scan, tmp_path):
    """An old scan lined up onto the panel: how it lies is as uncertain as the line-up left it."""
    here = lined_up(tmp_path, odd_scan, save(odd_shape(4.0), tmp_path / "shape.stl"))
    words = ("--old-unit", "mm", "--stripped-unit", "mm", "--paint-mm", 0, "--out", tmp_path / "w.ply")
    done("as-was", here, odd_scan, *words)
    held = read(here, "mm", "here").properties["uncertainty_mm"]
    trust = properties(tmp_path / "w.ply")[2]
    assert trust.max() == pytest.approx(np.nanmax(held), rel=1e-3)
    assert trust.min() == pytest.approx(np.nanmin(held), rel=1e-3)


def test_trust_that_can_t_be_is_refused(scan, tmp_path):
    shape = carried(scan, tmp_path / "shape.ply")
    data = shape.read_bytes()
    head = data.index(b"end_header\n") + len(b"end_header\n")
    broken = bytearray(data)
    trust = np.array([-1.0], dtype="<f4").tobytes()
    broken[head + 13 : head + 17] = trust  # x y z, made, trust_mm of the first vertex
    shape.write_bytes(bytes(broken))
    refused(run("plan", scan, shape, *PLAN, "--out", tmp_path / "p", "--quiet"), 2, "trust_mm")
