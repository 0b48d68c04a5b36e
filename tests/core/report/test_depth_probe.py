"""What is read at a point: linear between corners, words for each case, passes as the bench reckons them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from core.bench.materials import pick
from core.bench.passes import laid_thickness_mm, passes
from core.report.depth_probe import depth_note, depth_words, probed

SOLDER = pick("tin-lead-30-70")
RECORD = {
    "settings": {"true_mm": 0.25},
    "material": {"pass_mm": SOLDER.pass_mm, "greatest_depth_mm": SOLDER.greatest_depth_mm, "kind": "solder",
                 "contraction": SOLDER.contraction},
    "overbuild": {"minimum_mm": 1.0},
    "areas": [
        {"kind": "low", "number": 1, "minimum_overbuild_mm": 1.0},
        {"kind": "high", "number": 2, "minimum_overbuild_mm": 0.0, "work": "tap down or shrink"},
    ],
}


def test_depth_is_linear_between_corners() -> None:
    # Closed form: a linear field at a barycentric mean is the mean of its corners' values.
    weights = np.array([0.2, 0.3, 0.5])
    depths = np.array([1.0, 2.0, 4.0])
    found = probed(weights, depths, [1, 1, 1], RECORD)
    assert found.depth_mm == pytest.approx(0.2 + 0.6 + 2.0)
    assert found.heading == "Low 2.8 mm"
    assert found.place == 1


def test_passes_are_thickness_by_thickness() -> None:
    # By hand: 2.8 mm deep, 1 mm of overbuild, contraction c: (2.8 / (1 - c) + 1) / a pass's thickness, rounded up.
    found = probed([1.0], [2.8], [1], RECORD)
    thick = 2.8 / (1 - SOLDER.contraction) + 1.0
    said = f"{thick:.1f} mm to lay, about {math.ceil(thick / SOLDER.pass_mm)} layers"
    assert found.rows == ("Low 1", said, "lay at least 1.0 mm proud, to file")
    deep = probed([1.0], [SOLDER.greatest_depth_mm + 0.5], [1], RECORD)
    assert deep.rows[-1] == f"deeper than {SOLDER.greatest_depth_mm:g} mm: bring the metal up first"
    filler = {**RECORD, "material": {"pass_mm": 3.0, "greatest_depth_mm": 9.0}}
    assert probed([1.0], [2.8], [1], filler).rows[1] == "3.8 mm to lay, 2 passes"


@pytest.mark.parametrize(("weights", "depths", "heading"), [
    ([1.0], [0.1], "True, 0.1 mm low"),
    ([1.0], [-0.1], "True, 0.1 mm high"),
    ([1.0], [0.04], "True"),
    ([1.0], [-0.9], "High 0.9 mm"),
    ([0.5, 0.5, 0.0], [0.1, 0.1, math.nan], "True, 0.1 mm low"),  # a corner that weighs nothing says nothing
    ([0.5, 0.4, 0.1], [0.1, 0.1, math.nan], "Not measured"),
])
def test_headings(weights: list[float], depths: list[float], heading: str) -> None:
    assert probed(weights, depths, [0] * len(depths), RECORD).heading == heading


def test_high_metal_is_never_filled() -> None:
    assert probed([1.0], [-0.9], [2], RECORD).rows == ("High 2", "tap down or shrink")


def test_inches() -> None:
    # 25.4 mm to the inch, by definition.
    assert probed([1.0], [2.54], [0], RECORD, "inch").heading == "Low 0.100 in"
    assert depth_words(25.4 * 7 / 64, "inch") == "7/64 in"
    assert depth_note(25.4 / 8, 0.25, "inch") == "Low 1/8 in"


@pytest.mark.parametrize("depth", [0.3, 0.9, 1.7, 2.8, 3.1])
def test_passes_are_those_of_the_list(depth: float) -> None:
    # The list counts every low's passes with the job's greatest overbuild; so does a reading at its deepest place.
    record = {**RECORD, "overbuild": {"minimum_mm": 1.9}}
    count = passes(laid_thickness_mm(depth, 1.9, SOLDER), SOLDER)
    assert probed([1.0], [depth], [1], record).rows[1].endswith(f"about {count} layer{'' if count == 1 else 's'}")
