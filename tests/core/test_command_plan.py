"""The main job end to end on the tailgate sample, through the command line: what plan.json says.

Sources: sample_meshes/tailgate_expected.json (exact volumes of the damage, worked out beside the script that makes
it); trimesh and hashlib as other readers of the same files; DESIGN's formulas.
"""

from __future__ import annotations

import hashlib
import json
import math
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from core.bench.materials import load
from core.settings import Settings
from tests.core.command_line import plan

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_meshes"
SCAN, SHAPE = SAMPLES / "tailgate_scan.ply", SAMPLES / "tailgate_shape.stl"
EXPECTED = json.loads((SAMPLES / "tailgate_expected.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("sample")
    plan(SCAN, SHAPE, out)
    return out


@pytest.fixture(scope="module")
def record(folder: Path) -> dict[str, Any]:
    return json.loads((folder / "plan.json").read_text(encoding="utf-8"), parse_constant=pytest.fail)


# What the record must hold. A number is finite; "size" is a number not below 0.
CONDITION = {
    "pieces": "count", "rims": list, "holes": list, "degenerate": "count", "duplicates": "count",
    "non_manifold_edges": "count", "windings_mended": "count", "specks": "count", "notes": list, "turned": list,
}
MESH = {
    "file": str, "sha256": str, "unit": str, "vertices": "count", "triangles": "count", "area_mm2": "size",
    "condition": CONDITION,
}
RECORD: dict[str, Any] = {
    "format": str, "version": "count", "settings": dict, "panel": MESH, "target": MESH,
    "points": {
        "judged": "count", "not_judged": {"past_edge": "count", "too_far": "count", "faces_away": "count"},
    },
    "judged_share": "size",
    "area_mm2": {"low": "size", "high": "size", "true": "size", "not_judged": "size"},
    "depth_mm": {"max": "size", "p95": "size", "rms": "size", "high_max": "size"},
    "noise": {"sigma_mm": "size", "correlation_mm": "size", "source": str},
    "enclosed": {"fill_mm3": "size", "cut_mm3": "size"},
    "fill_volume_mm3": "size", "fill_volume_u95_mm3": "size", "cut_volume_mm3": "size",
    "cut_volume_u95_mm3": "size",
    "overbuild": {"minimum_mm": "size", "risk_each": "size", "risk_job": "size", "laid_volume_mm3": "size"},
    "material": {
        "name": str, "density_g_cm3": "size", "finished_mass_g": "size", "laid_mass_g": "size", "packs": "count",
        "pack_word": str, "pack_g": "size", "bought_g": "size", "laid_mass_steadier_g": "size",
        "laid_mass_unsteadier_g": "size", "filings_g": "size", "filed_share": "size", "prepared_area_mm2": "size",
        "paste_g": "size", "flux_g": "size", "kind": str, "contraction": "size",
    },
    "areas": list, "cautions": list, "warnings": list,
}
AREA: dict[str, Any] = {
    "number": "count", "kind": str, "area_mm2": "size", "perimeter_mm": "size", "volume_mm3": "size",
    "volume_u95_mm3": "size", "depth_max_mm": "size", "deepest_point_mm": list, "minimum_overbuild_mm": "size",
    "laid_volume_mm3": "size", "passes": "count", "reaches_rim": bool, "too_deep_area_mm2": "size",
    "length_mm": "size", "width_mm": "size", "laid_volume_steadier_mm3": "size", "laid_volume_unsteadier_mm3": "size",
    "to_lay_mm": "size", "raised_fill_mm3": "size", "raised_laid_volume_mm3": "size", "raised_to_lay_mm": "size",
    "raised_passes": "count", "beside": str,
}


def check(found: Any, wanted: Any, where: str) -> None:
    if isinstance(wanted, dict):
        assert set(wanted) <= set(found), where
        for key, kind in wanted.items():
            check(found[key], kind, f"{where}.{key}")
    elif wanted == "count":
        assert type(found) is int, where
        assert found >= 0, where
    elif wanted == "size":
        assert type(found) in (int, float), where
        assert math.isfinite(found), where
        assert found >= 0, where
    else:
        assert type(found) is wanted, where


def test_plan_json_has_every_key_with_its_kind(record: dict[str, Any]) -> None:
    check(record, RECORD, "plan")
    for area in record["areas"]:
        check(area, AREA, "area")
        assert [type(v) for v in area["deepest_point_mm"]] == [float] * 3
        assert area["kind"] in ("low", "high")
    assert (record["format"], record["version"]) == ("fillwright.plan", 1)
    assert record["settings"] == Settings().as_dict()
    said = [text for moment in record["cautions"] for text in (moment["title"], *moment["sentences"])]
    assert all(type(text) is str and text for text in [*said, *record["warnings"]])


def test_plan_json_names_the_files_that_came(record: dict[str, Any]) -> None:
    for key, path in (("panel", SCAN), ("target", SHAPE)):
        mesh, wanted = record[key], EXPECTED["files"][path.name]
        read_back = trimesh.load(path)
        assert mesh["file"] == path.name
        assert mesh["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
        assert mesh["unit"] == "mm"
        assert (mesh["vertices"], mesh["triangles"]) == (wanted["vertices"], wanted["triangles"])
        assert mesh["area_mm2"] == pytest.approx(read_back.area, rel=1e-6)


def test_the_parts_of_the_plan_add_up(record: dict[str, Any]) -> None:
    """Identities of DESIGN section 2; masses are volume times density."""
    points, material, built = record["points"], record["material"], record["overbuild"]
    assert points["judged"] + sum(points["not_judged"].values()) == record["panel"]["vertices"]
    assert sum(record["area_mm2"].values()) == pytest.approx(record["panel"]["area_mm2"], rel=1e-9)
    lows = [area for area in record["areas"] if area["kind"] == "low"]
    highs = [area for area in record["areas"] if area["kind"] == "high"]
    for group in (lows, highs):
        assert [area["number"] for area in group] == list(range(1, len(group) + 1))
        assert [area["volume_mm3"] for area in group] == sorted((a["volume_mm3"] for a in group), reverse=True)
    for kind, group in (("fill", lows), ("cut", highs)):
        each = np.array([area["volume_u95_mm3"] for area in group])
        assert record[f"{kind}_volume_mm3"] == pytest.approx(sum(area["volume_mm3"] for area in group))
        # Uncertainties that share a part lie between wholly apart and wholly alike (GUM, JCGM 100 5.2).
        root, whole = math.sqrt(each @ each), float(each.sum())
        assert root * (1 - 1e-9) <= record[f"{kind}_volume_u95_mm3"] <= whole * (1 + 1e-9)
    assert built["minimum_mm"] == max(area["minimum_overbuild_mm"] for area in lows)
    # Areas of one panel share its line-up: between one accident and as many of their own (its figure: test_job_risk).
    assert len(lows) > 1
    assert built["risk_each"] < built["risk_job"] < 1 - (1 - built["risk_each"]) ** len(lows) - 1e-3
    assert built["laid_volume_mm3"] == pytest.approx(sum(area["laid_volume_mm3"] for area in lows))
    density = material["density_g_cm3"]
    assert material["finished_mass_g"] == pytest.approx(record["fill_volume_mm3"] / 1000 * density)
    assert material["laid_mass_g"] == pytest.approx(built["laid_volume_mm3"] / 1000 * density)
    solder = load()["tin-lead-30-70"]
    assert material["packs"] == math.ceil(
        material["laid_mass_g"] * (1 + solder.waste_share) * (1 + Settings().reserve_share) / solder.pack_g
    )


def test_what_is_laid_follows_from_fill_overbuild_and_margin(record: dict[str, Any]) -> None:
    """DESIGN 2: fill + c/(1-c) fill + t0 area + t0 margin / 2; passes over the greatest thickness."""
    solder = load()["tin-lead-30-70"]
    c, most = solder.contraction, record["overbuild"]["minimum_mm"]
    for area in record["areas"]:
        if area["kind"] == "high":
            assert (area["minimum_overbuild_mm"], area["laid_volume_mm3"], area["passes"]) == (0, 0, 0)
            continue
        t0, fill = area["minimum_overbuild_mm"], area["volume_mm3"]
        laid = fill / (1 - c) + t0 * (area["area_mm2"] + area["margin_area_mm2"] / 2)
        assert area["laid_volume_mm3"] == pytest.approx(laid)
        # Passes of every area are counted with one overbuild, the greatest: one map and one legend hold for all.
        assert area["to_lay_mm"] == pytest.approx(area["depth_max_mm"] / (1 - c) + most)
        assert area["passes"] == math.ceil(area["to_lay_mm"] / solder.pass_mm)
        lo, hi = area["laid_volume_steadier_mm3"], area["laid_volume_unsteadier_mm3"]
        assert lo < area["laid_volume_mm3"] < hi


def test_raised_first_stands_beside_as_it_lies(record: dict[str, Any]) -> None:
    """Sums of the areas; an area no deeper than the material may be laid is the same both ways."""
    raised, limit = record["raised"], record["material"]["greatest_depth_mm"]
    lows = [area for area in record["areas"] if area["kind"] == "low"]
    assert any(area["depth_max_mm"] > limit for area in lows)
    assert raised["limit_mm"] == limit
    assert raised["fill_volume_mm3"] == pytest.approx(sum(area["raised_fill_mm3"] for area in lows))
    assert raised["laid_volume_mm3"] == pytest.approx(sum(area["raised_laid_volume_mm3"] for area in lows))
    density = record["material"]["density_g_cm3"]
    assert raised["finished_mass_g"] == pytest.approx(raised["fill_volume_mm3"] / 1000 * density)
    for area in lows:
        cut = area["volume_mm3"] - area["raised_fill_mm3"]
        deep = area["depth_max_mm"] - limit
        assert (cut > 0) == (deep > 0)
        # What is cut off is no more than a block over the deep metal.
        assert cut <= 1.1 * area["too_deep_area_mm2"] * max(deep, 0.0)
        if deep <= 0:
            assert (area["raised_passes"], area["raised_to_lay_mm"]) == (area["passes"], area["to_lay_mm"])


def areas_found(record: dict[str, Any], wanted: dict[str, Any]) -> list[dict[str, Any]]:
    """The plan's areas of that kind whose deepest point is within the damage's own ellipse."""
    centre, half = np.array(wanted["plan"]["centre_mm"]), max(wanted["plan"]["half_axes_mm"])
    return [
        area for area in record["areas"] if area["kind"] == wanted["kind"]
        and np.hypot(*(np.array(area["deepest_point_mm"])[:2] - centre)) < half
    ]


def test_the_known_damage_is_found_and_nothing_else(record: dict[str, Any], tmp_path: Path) -> None:
    """tailgate_expected.json. Volumes with the drawn noise in them, so that what is left is the plan's own error:
    within the stated 95 % for noise alone (line-up uncertainty 0; the sample is lined up exactly)."""
    lined_up = plan(SCAN, SHAPE, tmp_path, "--line-up-uncertainty-mm", 0)
    for found in (record, lined_up):
        assert len(found["areas"]) == len(EXPECTED["areas"]) == 4
    for wanted in EXPECTED["areas"]:
        volume = wanted["volume_mm3"] + wanted["noise_volume_mm3"]
        for found in (record, lined_up):
            (area,) = areas_found(found, wanted)
            assert abs(area["volume_mm3"] - volume) < area["volume_u95_mm3"], wanted["name"]
            # Steady depth of noisy metal: 2 sigma of the scan's noise, 0.05 mm.
            assert area["depth_max_mm"] == pytest.approx(wanted["depth_max_mm"], abs=0.1)
            assert area["reaches_rim"] is wanted["reaches_rim"]
            assert wanted["area_off_true_mm2"] < area["area_mm2"]
        (area,) = areas_found(record, wanted)
        assert area["area_mm2"] < wanted["area_mm2"]  # it stops at the noise's edge, within where damage fades out
        (area,) = areas_found(lined_up, wanted)
        # Small enough to be of use: the deep low to 3 %, the shallow ones to a quarter of their volume at most.
        assert area["volume_u95_mm3"] < max(0.03 * volume, 200.0), wanted["name"]


def test_solder_too_deep_is_said_and_measured(record: dict[str, Any]) -> None:
    """Cosine dent of 4.5 mm over 60 mm: deeper than 3.2 mm within r = 60 (2/pi) acos(sqrt(3.2/4.5)) (calculus)."""
    (warning,) = record["warnings"]
    assert re.match(r"Low 1: 4\.\d+ mm deep; .* no deeper than 3\.2 mm: bring the metal up first", warning)
    radius = 60 * 2 / np.pi * np.arccos(np.sqrt(3.2 / 4.5))
    assert record["areas"][0]["too_deep_area_mm2"] == pytest.approx(np.pi * radius**2, rel=0.03)
    assert [area["too_deep_area_mm2"] for area in record["areas"][1:]] == [0, 0, 0]
