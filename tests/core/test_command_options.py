"""What each option of the command line changes, by closed forms on a dent in a flat sheet.

Sources: cosine dent, volume pi a b d (1/2 - 2/pi^2) and box l w h (calculus); an inch is 25.4 mm exactly
(NIST Special Publication 811, 2008, appendix B); DESIGN section 2 for finish and work area.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from core.surface.surface import Surface
from tests.core.command_line import plan, save
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

VOLUME = np.pi * 30 * 30 * 2.0 * (0.5 - 2 / np.pi**2)


def dented() -> Surface:
    x, y = grid_points(120.0, 90.0, 2.0)
    return sheet(x, y, -cosine_dent(x, y, (60, 45), (30, 30), 2.0))


def sunk(depth: float) -> Surface:
    x, y = grid_points(120.0, 90.0, 3.0)
    return sheet(x, y, np.full_like(x, -depth))


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return save(flat_target(120.0, 90.0, 30.0), tmp_path / "target.stl")


def test_the_dent_itself(tmp_path: Path, target: Path) -> None:
    """At 2 mm the dent's chords miss 0.05 % of it (measured; the error falls with the square of the step)."""
    found = plan(save(dented(), tmp_path / "panel.ply"), target, tmp_path / "out")
    assert found["enclosed"]["fill_mm3"] == pytest.approx(VOLUME, rel=1e-3)
    assert found["enclosed"]["cut_mm3"] < 1e-3
    assert found["fill_volume_mm3"] == pytest.approx(VOLUME, rel=2e-3)
    assert found["depth_mm"]["max"] == pytest.approx(2.0, abs=0.03)


@pytest.mark.parametrize(("unit", "mm"), [("in", 25.4), ("cm", 10.0), ("m", 1000.0)])
def test_the_same_panel_in_another_unit(tmp_path: Path, target: Path, unit: str, mm: float) -> None:
    """PLY of double precision, so that nothing is lost; plan.json is in mm whatever came."""
    surface = dented()
    head = (f"ply\nformat binary_little_endian 1.0\nelement vertex {len(surface.vertices)}\nproperty double x\n"
            f"property double y\nproperty double z\nelement face {len(surface.triangles)}\n"
            "property list uchar int vertex_indices\nend_header\n").encode()
    faces = np.zeros(len(surface.triangles), dtype=[("n", "u1"), ("rows", "<i4", 3)])
    faces["n"], faces["rows"] = 3, surface.triangles
    for name, scale in (("mm", 1.0), (unit, 1 / mm)):
        body = (surface.vertices * scale).astype("<f8").tobytes() + faces.tobytes()
        (tmp_path / f"{name}.ply").write_bytes(head + body)
    wanted = plan(tmp_path / "mm.ply", target, tmp_path / "one", "--panel-unit", "mm")
    found = plan(tmp_path / f"{unit}.ply", target, tmp_path / "two", "--panel-unit", unit)
    assert found["panel"]["unit"] == unit
    assert found["fill_volume_mm3"] == pytest.approx(wanted["fill_volume_mm3"], rel=1e-9)
    assert found["panel"]["area_mm2"] == pytest.approx(wanted["panel"]["area_mm2"], rel=1e-12)
    for key in ("area_mm2", "perimeter_mm", "depth_max_mm", "minimum_overbuild_mm", "laid_volume_mm3"):
        assert found["areas"][0][key] == pytest.approx(wanted["areas"][0][key], rel=1e-9), key


@pytest.mark.parametrize("finish", [0.2, -0.15, 0.0])
def test_finish_sets_the_shape_in_by_the_paint(tmp_path: Path, target: Path, finish: float) -> None:
    """A sheet 1 mm low under a shape that carries 0.2 mm of paint is 0.8 mm low."""
    found = plan(save(sunk(1.0), tmp_path / "panel.ply"), target, tmp_path / "out", "--finish-mm", finish)
    assert found["depth_mm"]["max"] == pytest.approx(1.0 - finish)
    assert found["depth_mm"]["rms"] == pytest.approx(1.0 - finish)
    assert found["fill_volume_mm3"] == pytest.approx(120 * 90 * (1.0 - finish), rel=1e-9)
    assert found["settings"]["finish_mm"] == finish


def test_finish_can_turn_low_into_true(tmp_path: Path, target: Path) -> None:
    found = plan(save(sunk(0.4), tmp_path / "panel.ply"), target, tmp_path / "out", "--finish-mm", 0.4)
    assert found["areas"] == []
    assert found["area_mm2"]["true"] == pytest.approx(120 * 90)


def test_reach_and_true(tmp_path: Path, target: Path) -> None:
    """A ramp from 0 to 6 mm deep: what is deeper than a reach of 3 mm is too far, what is within 2 mm is true."""
    x, y = grid_points(120.0, 90.0, 1.5)
    panel = save(sheet(x, y, -x / 20), tmp_path / "ramp.ply")
    found = plan(panel, target, tmp_path / "out", "--reach-mm", 3, "--true-mm", 2)
    assert found["judged_share"] == pytest.approx(0.5, abs=0.02)
    assert found["points"]["not_judged"]["too_far"] > 0
    assert found["depth_mm"]["max"] == pytest.approx(3.0, abs=0.1)
    area = found["panel"]["area_mm2"]
    assert found["area_mm2"]["true"] == pytest.approx(area * 40 / 120, rel=0.04)
    assert found["area_mm2"]["low"] == pytest.approx(area * 20 / 120, rel=0.08)


def test_material_of_ones_own(tmp_path: Path, target: Path) -> None:
    """Masses and packs from the user's own figures, by hand."""
    (tmp_path / "mine.toml").write_text(
        '[mine]\ntitle = "My putty"\nkind = "filler"\nholds_lead = false\ndensity_g_cm3 = 2.0\npass_mm = 0.5\n'
        'greatest_depth_mm = 4.0\ncontraction = 0.2\npack_word = "tin"\npack_g = 10\nwaste_share = 0.5\n'
        'cautions = ["Mine alone."]\n', encoding="utf-8",
    )
    panel = save(dented(), tmp_path / "panel.ply")
    found = plan(panel, target, tmp_path / "out", "--materials", tmp_path / "mine.toml", "--material", "mine")
    material, area = found["material"], found["areas"][0]
    t0 = area["minimum_overbuild_mm"]
    laid = area["volume_mm3"] / 0.8 + t0 * (area["area_mm2"] + area["margin_area_mm2"] / 2)
    assert (material["name"], material["pack_word"]) == ("mine", "tin")
    assert material["finished_mass_g"] == pytest.approx(found["fill_volume_mm3"] / 1000 * 2.0)
    assert material["laid_mass_g"] == pytest.approx(laid / 1000 * 2.0)
    assert material["packs"] == int(np.ceil(laid / 1000 * 2.0 * 1.5 * 1.25 / 10))
    assert area["passes"] == int(np.ceil((area["depth_max_mm"] / 0.8 + t0) / 0.5))
    assert {"moment": "material", "title": "This Material", "sentences": ["Mine alone."]} in found["cautions"]
    assert found["cautions"][-1]["sentences"][-1].startswith("Follow local law")


def test_a_settings_file_and_what_goes_before_it(tmp_path: Path, target: Path) -> None:
    """What is typed beats the file, the file beats the defaults. Notepad's mark in front does no harm."""
    panel = save(dented(), tmp_path / "panel.ply")
    for mark in (b"", b"\xef\xbb\xbf"):
        file = tmp_path / "mine.toml"
        file.write_bytes(mark + b'risk = 0.01\nmaterial = "polyester"\nclean_up_mm = 0.5\n')
        found = plan(panel, target, tmp_path / "out", "--settings", file, "--risk", 0.2)
        assert found["settings"]["risk"] == found["overbuild"]["risk_each"] == 0.2
        assert found["settings"]["clean_up_mm"] == 0.5
        assert found["material"]["name"] == found["settings"]["material"] == "polyester"
        assert found["settings"]["true_mm"] == 0.25


def test_a_smaller_risk_and_a_rougher_hand_ask_for_more(tmp_path: Path, target: Path) -> None:
    panel = save(dented(), tmp_path / "panel.ply")
    usual = plan(panel, target, tmp_path / "out")["overbuild"]["minimum_mm"]
    for words in (("--risk", 0.001), ("--lay-sigma-mm", 0.6), ("--lay-correlation-mm", 6), ("--surfacer-mm", 0),
                  ("--line-up-uncertainty-mm", 0.3)):
        assert plan(panel, target, tmp_path / "out", *words)["overbuild"]["minimum_mm"] > usual + 0.03, words


def test_scan_error_stated_is_taken(tmp_path: Path, target: Path) -> None:
    panel = save(dented(), tmp_path / "panel.ply")
    words = ("--scan-error-mm", 0.2, "--scan-error-length-mm", 7, "--line-up-uncertainty-mm", 0)
    found = plan(panel, target, tmp_path / "out", *words)
    assert found["noise"]["sigma_mm"] == pytest.approx(0.2)
    assert found["noise"]["correlation_mm"] == pytest.approx(7)
    area = found["areas"][0]
    # FACTS 7: u = sigma A sqrt(A_corr / A), A_corr = 2 pi l^2; an upper bound where the area is not far larger.
    # The volume is summed over the area and its hem of 8 mm, counted in whole rows of 2 mm triangles: at most two more.
    summed = np.pi * (np.sqrt(area["area_mm2"] / np.pi) + 8 + 4 * np.sqrt(2)) ** 2
    most = 1.96 * 0.2 * np.sqrt(summed * 2 * np.pi * 7**2)
    assert 0.7 * most < area["volume_u95_mm3"] <= most


def test_work_area_by_numbers_and_by_a_marked_ply(tmp_path: Path, target: Path) -> None:
    """The left half of a sunk sheet: half its volume, and the same from both kinds of file."""
    surface = sunk(1.0)
    panel = save(surface, tmp_path / "panel.ply")
    inside = surface.vertices[:, 0] <= 60
    (tmp_path / "rows.txt").write_text("# left half\n" + " ".join(map(str, np.flatnonzero(inside))), encoding="utf-8")
    rows = "\n".join(f"{x} {y} {z} {int(m)}" for (x, y, z), m in zip(surface.vertices, inside, strict=True))
    (tmp_path / "marked.ply").write_text(
        f"ply\nformat ascii 1.0\nelement vertex {len(inside)}\nproperty float x\nproperty float y\nproperty float z\n"
        f"property uchar work_area\nelement face 0\nproperty list uchar int vertex_indices\nend_header\n{rows}\n",
        encoding="utf-8",
    )
    found = [
        plan(panel, target, tmp_path / "out", "--work-area", tmp_path / name) for name in ("rows.txt", "marked.ply")
    ]
    assert found[0] == found[1]
    points = found[0]["points"]
    assert points["judged"] == inside.sum()
    assert points["outside_work_area"] == (~inside).sum()
    assert found[0]["judged_share"] == pytest.approx(1.0)
    assert found[0]["enclosed"]["fill_mm3"] == pytest.approx(60 * 90 * 1.0, rel=1e-6)
    assert found[0]["fill_volume_mm3"] == pytest.approx(60 * 90 * 1.0, rel=1e-6)
