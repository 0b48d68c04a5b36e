"""The command test-scanner: two scans in, a settings file out that a plan reads."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.place.motion import Motion
from core.settings import read_settings
from tests.core.command_line import plan, refused, run, save, tree_of
from tests.core.place.crowned import odd_panel, odd_shape

AWAY = Motion(Rotation.from_rotvec([0.4, -0.7, 1.0]).as_matrix(), np.array([100.0, -200, 500]))
UNITS = ("--a-unit", "mm", "--b-unit", "mm")


@pytest.fixture
def scans(tmp_path):
    """Two scans with 0.06 mm of white noise each along z, the first in another frame."""
    one, other = odd_panel(5.0, 0.06, seed=1), odd_panel(5.0, 0.06, seed=2)
    return save(AWAY.surface(one), tmp_path / "a.ply"), save(other, tmp_path / "b.ply")


def test_error_and_length_become_settings(scans, tmp_path):
    out = tmp_path / "scanner.toml"
    ran = run("test-scanner", *scans, *UNITS, "--out", out)
    assert ran.status == 0, ran
    assert "Scanner's error 0.05" in ran.out
    assert "white, from point to point" in ran.out
    settings = read_settings(out)
    # Along the normals it is less by their slope. From 2500 points 1 / sqrt(2n) is 1.4 %; three times that.
    upright = odd_panel(5.0, 0.0).vertex_normals[:, 2]
    assert settings["scan_error_mm"] == pytest.approx(0.06 * np.sqrt(np.mean(upright**2)), rel=0.045)
    assert settings["scan_error_length_mm"] == 0
    shape = save(odd_shape(3.0), tmp_path / "shape.stl")
    record = plan(scans[1], shape, tmp_path / "plan", "--panel-unit", "mm", "--target-unit", "mm", "--settings", out)
    assert record["settings"]["scan_error_mm"] == settings["scan_error_mm"]


def test_what_can_t_be_written_or_read_is_refused(scans, tmp_path):
    before = tree_of(tmp_path)
    refused(run("test-scanner", *scans, *UNITS, "--out", tmp_path / "scanner.txt", "--quiet"), 2, ".toml")
    out = tmp_path / "s.toml"
    refused(run("test-scanner", scans[0], tmp_path / "no.ply", *UNITS, "--out", out, "--quiet"), 2, "no.ply")
    assert tree_of(tmp_path) == before


def test_one_file_twice_has_no_error_to_tell(scans, tmp_path):
    """A plan would believe an error of nothing."""
    out = tmp_path / "s.toml"
    refused(run("test-scanner", scans[0], scans[0], *UNITS, "--out", out, "--quiet"), 2, "point for point")
    assert not out.exists()
