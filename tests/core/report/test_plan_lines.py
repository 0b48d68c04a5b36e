"""The sidebar's lines against the record that they are made from, on the sample."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from core.__main__ import main
from core.report.plan_lines import condition_details, condition_lines, result_lines

SAMPLE = Path(__file__).parents[3] / "sample_meshes"


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> dict:
    out = tmp_path_factory.mktemp("plan")
    words = [str(SAMPLE / "tailgate_scan.ply"), str(SAMPLE / "tailgate_shape.stl"), "--panel-unit", "mm"]
    assert main(["plan", *words, "--target-unit", "mm", "--out", str(out)]) == 0
    return json.loads((out / "plan.json").read_text(encoding="utf-8"))


def test_every_figure_of_the_job_is_there_with_its_uncertainty(record: dict) -> None:
    lines = {line.name: line for line in result_lines(record, "mm")}
    need = ["Finished", "To Lay", "Filed Off", "To Buy", "To Tin"]
    first = ["Fill", "Highs", "Overbuild", "Deepest Place", "Still Low"]
    every = [line.name for line in result_lines(record, "mm")]
    assert every == [*first, "As It Lies", *need, "Raised First", *need]
    lines = {line.name: line for line in result_lines({**record, "raised": None}, "mm")}
    assert list(lines) == [*first, *need]
    highs = [area["depth_max_mm"] for area in record["areas"] if area["kind"] == "high"]
    assert lines["Highs"].value == f"up to {max(highs):.1f} mm"
    assert "cm³" not in lines["Highs"].value + lines["Highs"].more
    mine = record["material"]
    assert lines["To Lay"].value == f"{mine['laid_mass_steadier_g']:.0f} to {mine['laid_mass_unsteadier_g']:.0f} g"
    assert lines["To Buy"].value == "2 sticks of 454 g"
    assert "25%" in lines["To Buy"].more
    assert float(lines["Fill"].value.split()[0]) == pytest.approx(record["fill_volume_mm3"] / 1000, abs=0.05)
    u95 = record["fill_volume_u95_mm3"] / 1000
    assert float(lines["Fill"].more.split()[3]) == pytest.approx(u95, abs=0.05)
    # mass is volume times density
    density = record["material"]["density_g_cm3"]
    finished = record["fill_volume_mm3"] / 1000 * density
    assert float(lines["Finished"].value.split()[0]) == pytest.approx(finished, abs=0.6)
    assert float(lines["Finished"].more.split()[3]) == pytest.approx(u95 * density, abs=0.6)
    assert float(lines["Overbuild"].value.split()[3]) == pytest.approx(record["overbuild"]["minimum_mm"], abs=0.05)
    # three lows, each at 5 %: 1 - 0.95^3 = 14 %
    low = record["areas"][0]
    assert lines["Deepest Place"].value == f"{low['raised_to_lay_mm']:.1f} mm to lay"
    assert lines["Deepest Place"].more == f"about {low['raised_passes']} layers"
    assert lines["Overbuild"].more == "proud, to file"
    assert (lines["Still Low"].value, lines["Still Low"].more) == ("about 1 job in 7", "still shows a low spot (14%)")


def test_nothing_to_fill_names_no_material(record: dict) -> None:
    empty = {**record, "fill_volume_mm3": 0.0, "fill_volume_u95_mm3": 0.0, "cut_volume_mm3": 0.0}
    assert [line.value for line in result_lines(empty, "mm")] == ["0.0 cm³"]


def test_condition_says_what_was_mended_and_left_out(record: dict) -> None:
    lines = {line.name: line.value for line in condition_lines(record, "mm")}
    assert lines["Triangles"] == "90 379"  # as in the file, sample_meshes/tailgate_scan.ply
    assert lines["Mended"] == "nothing"
    mended = json.loads(json.dumps(record))
    mended["panel"]["condition"]["notes"] = ["1 speck of 0.10 cm² in all removed"]
    mended["not_judged_mm2"]["too_far"] = 1200
    mended["outside_work_area_mm2"] = 140
    assert {line.name: line.value for line in condition_lines(mended, "mm")}["Mended"] == "1 thing"
    said = condition_details(mended, "mm")
    assert said[0] == "Panel: 1 speck of 0.10 cm² in all removed"
    assert "Not measured: 12 cm² further off than is looked (20.0 mm): rough a dent out first, then scan again" in said
    assert "Outside the work area: 1.4 cm²" in said
