"""The legend's steps and colours, measured with CIE and WCAG formulas written out here anew."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest

from core.errors import InputError
from core.legend.legend import (
    EDGES_MM,
    Legend,
    Step,
    colours,
    legend,
    length_words,
    number_words,
    relative_luminance,
    step_of,
)

# Machado, Oliveira, Fernandes 2009, severity 1, to be used on linear RGB
VISIONS = {
    "normal": np.eye(3),
    "protan": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deutan": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritan": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
# Linear sRGB to XYZ, IEC 61966-2-1; its white is the sum of each row
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
SETTINGS = list(product((0.1, 0.25, 0.4, 0.49, 1.0, 2.5), (None, 3.2, 5.0, 5.2, 8.0, 15.0), ("mm", "inch")))


def lightness(luminance: float) -> float:
    """CIE L* of Y in 0 to 1, CIE 15: cube root above 216/24389, else a straight line."""
    return 116 * luminance ** (1 / 3) - 16 if luminance > 216 / 24389 else 24389 / 27 * luminance


def lab(colour: tuple[int, int, int], vision: str) -> np.ndarray:
    share = np.array(colour) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    seen = np.clip(VISIONS[vision] @ linear, 0.0, 1.0)
    x, y, z = (lightness(v) for v in TO_XYZ @ seen / TO_XYZ.sum(axis=1))
    # a* and b* are 500 and 200 times differences of f = (L* + 16) / 116
    return np.array([y, 500 / 116 * (x - y), 200 / 116 * (y - z)])


def apart(a: Step, b: Step, vision: str) -> float:
    """CIE 1976 colour difference."""
    return float(np.linalg.norm(lab(a.colour, vision) - lab(b.colour, vision)))


def of_kind(key: Legend, *kinds: str) -> list[Step]:
    return [step for step in key.steps if step.kind in kinds]


def test_lightness_formula_gives_the_published_value() -> None:
    # FACTS 12: L*(12.19722535) = 41.5278758 [std]
    assert lightness(0.1219722535) == pytest.approx(41.5278758, abs=1e-6)


@pytest.mark.parametrize(("grey", "contrast"), [(0x76, 4.542), (0x77, 4.478)])
def test_luminance_gives_published_contrasts_on_white(grey: int, contrast: float) -> None:
    # FACTS 12: WCAG contrast of #767676 and #777777 on white [std]
    assert 1.05 / (relative_luminance((grey, grey, grey)) + 0.05) == pytest.approx(contrast, abs=5e-4)


@pytest.mark.parametrize("side", ["high", "low"])
def test_lightness_falls_evenly_from_chalk(side: str) -> None:
    # DESIGN 5: lightness falls evenly on both sides of chalk
    key = legend()
    walk = of_kind(key, "true", side)
    walk = walk[::-1] if side == "high" else walk
    drops = -np.diff([lab(step.colour, "normal")[0] for step in walk])
    assert len(drops) >= 4
    assert np.ptp(drops) < 0.5


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize(("true_mm", "greatest_mm", "unit"), SETTINGS)
def test_neighbours_differ_by_8_in_lightness(true_mm: float, greatest_mm: float | None, unit: str, vision: str) -> None:
    # DESIGN 5: neighbours at least 8 L* apart, also under protan, deutan and tritan simulation, and still falling
    key = legend(true_mm, greatest_mm, unit)
    levels = [lab(step.colour, vision)[0] for step in key.steps[:-1]]
    middle = key.true_step
    assert all(b - a >= 8 for a, b in pairwise(levels[: middle + 1]))
    assert all(a - b >= 8 for a, b in pairwise(levels[middle:]))


@pytest.mark.parametrize("vision", VISIONS)
def test_odd_steps_stand_out_from_every_other(vision: str) -> None:
    # "not judged" can lie beside anything, "too deep" beside any step where depth jumps
    every = [*legend().steps[:-1], *legend(greatest_mm=3.2).steps[-2:]]
    for odd in every[-2:]:
        assert min(apart(odd, step, vision) for step in every if step is not odd) >= 15
    assert every[-2].hatch
    assert every[-1].dots
    assert not any(step.hatch or step.dots for step in every[:-2])


@pytest.mark.parametrize("vision", VISIONS)
def test_low_is_never_taken_for_high(vision: str) -> None:
    key = legend()
    for low, high in product(of_kind(key, "low"), of_kind(key, "high")):
        assert apart(low, high, vision) >= 15
        hues = [math.atan2(*lab(step.colour, "normal")[:0:-1]) for step in (low, high)]
        assert abs(math.remainder(hues[0] - hues[1], math.tau)) > math.radians(90)


def test_no_step_is_green_and_right_has_no_hue() -> None:
    # DESIGN 5: never green for right, no rainbow; CIE Lab green lies at 136 to 180 degrees
    for step in [*legend().steps, *legend(greatest_mm=3.2).steps]:
        _, a, b = lab(step.colour, "normal")
        hue, chroma = math.degrees(math.atan2(b, a)) % 360, math.hypot(a, b)
        assert chroma < 8 if step.kind in ("true", "not_judged") else not 100 < hue < 190


def test_steps_of_the_design() -> None:
    # DESIGN 5: 0.25, 0.5, 1, 2, 5, 10 mm; inch 1/64, 1/32, 1/16, 1/8, 1/4 with 1 in = 25.4 mm (ISO 31)
    assert [step.low_mm for step in of_kind(legend(), "low")] == [0.25, 0.5, 1, 2, 5, 10]
    inch = [Fraction(step.low_mm / 25.4).limit_denominator(64) for step in of_kind(legend(0.3968, unit="inch"), "low")]
    assert inch[1:] == [Fraction(1, 32), Fraction(1, 16), Fraction(1, 8), Fraction(1, 4)]


@pytest.mark.parametrize(("true_mm", "greatest_mm", "unit"), SETTINGS)
def test_steps_join_without_gap_and_agree_with_brute_force(
    true_mm: float, greatest_mm: float | None, unit: str
) -> None:
    key = legend(true_mm, greatest_mm, unit)
    assert key.steps[0].low_mm == -math.inf
    assert key.steps[-2].high_mm == math.inf
    assert all(a.high_mm == b.low_mm for a, b in pairwise(key.steps[:-1]))
    assert len(of_kind(key, "true")) == 1
    rng = np.random.default_rng(5)
    depth = np.concatenate([rng.normal(0, 4, 200), key.edges_mm, np.nextafter(key.edges_mm, 0), [0.0, np.nan, np.inf]])
    # brute-force twin: an exact edge belongs to the step nearer to true
    expected = []
    for d in depth:
        if not math.isfinite(d):
            expected.append(len(key.steps) - 1)
            continue
        holds = [row for row, step in enumerate(key.steps[:-1]) if step.low_mm <= d <= step.high_mm]
        expected.append(min(holds, key=lambda row: abs(row - key.true_step)))
    np.testing.assert_array_equal(step_of(depth, key), expected)
    palette = [key.steps[row].colour for row in expected]
    np.testing.assert_array_equal(colours(depth, key), palette)
    assert colours(depth, key).dtype == np.uint8


def test_a_depth_keeps_its_colour_whatever_the_tolerance() -> None:
    # DESIGN 5: the same for every map
    depth = np.array([-3.0, -1.5, 1.5, 3.0, 7.0, 12.0])
    for true_mm in (0.1, 0.25, 0.4, 0.49, 1.0):
        np.testing.assert_array_equal(colours(depth, legend(true_mm)), colours(depth, legend()))
    # also where the step's own edge gave way to the tolerance, 0.49 for 0.5
    np.testing.assert_array_equal(colours([-0.7, 0.7], legend(0.49)), colours([-0.7, 0.7], legend()))


def test_edges_within_the_tolerance_give_way() -> None:
    assert [step.low_mm for step in of_kind(legend(0.4), "low")][:2] == [0.4, 0.5]
    assert [step.low_mm for step in of_kind(legend(0.49), "low")][:2] == [0.49, 1.0]  # no step of 0.01 mm
    assert [step.low_mm for step in of_kind(legend(greatest_mm=5.2), "low", "too_deep")][-2:] == [2.0, 5.2]
    assert len(of_kind(legend(12.0), "high")) == len(of_kind(legend(12.0), "low")) == 1


def test_labels_in_shop_units() -> None:
    labels = [step.label for step in legend(greatest_mm=3.2).steps]
    assert labels[3:7] == ["High 0.25 to 0.5 mm", "True (within 0.25 mm)", "Low 0.25 to 0.5 mm", "Low 0.5 to 1 mm"]
    assert labels[-2:] == ["Deeper than 3.2 mm", "Not measured"]
    inch = [step.label for step in legend(25.4 / 64, 3.175, "inch").steps]
    assert inch[3:6] == ["High 1/64 to 1/32 in", "True (within 1/64 in)", "Low 1/64 to 1/32 in"]
    assert inch[-2] == "Deeper than 1/8 in"
    # a positive depth in a check is what is short
    check = legend(kind="check")
    assert check.steps[step_of([0.7], check)[0]].label == "Short 0.5 to 1 mm"
    assert check.steps[step_of([-0.7], check)[0]].label == "Left to file 0.5 to 1 mm"
    assert check.steps[check.true_step].label == "Enough (within 0.25 mm)"


def test_inch_fractions_against_exact_ones() -> None:
    # witness: Python's fractions, each read back as a sum of its words
    for parts in range(1, 200):
        words = number_words(parts * 25.4 / 64, "inch")
        assert sum(Fraction(word) for word in words.split()) == Fraction(parts, 64)
    assert length_words(3.2, "inch") == "0.126 in"  # 3.2 / 25.4 = 0.12598, no 64th


def test_points_that_are_not_judged() -> None:
    key = legend()
    rows = step_of([0.0, 3.0, 3.0], key, judged=[True, True, False])
    assert [key.steps[row].kind for row in rows] == ["true", "low", "not_judged"]
    with pytest.raises(InputError, match=r"\(2,\) judged marks came for \(3,\) depths"):
        step_of([0.0, 1.0, 2.0], key, judged=[True, False])


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        ({"unit": "cm"}, "'cm' came; 'mm' or 'inch' is wanted"),
        ({"kind": "map"}, "'map' came; 'plan' or 'check' is wanted"),
        ({"true_mm": -1.0}, "true tolerance: -1 mm came"),
        ({"true_mm": math.nan}, "true tolerance: nan mm came"),
        ({"greatest_mm": 0.25}, "greatest depth: 0.25 mm came; it must be more than the true tolerance of 0.25 mm"),
        ({"greatest_mm": math.inf}, "greatest depth: inf mm came"),
    ],
)
def test_settings_that_cannot_be_used(settings: dict[str, object], sentence: str) -> None:
    with pytest.raises(InputError, match=sentence.replace("(", r"\(")):
        legend(**settings)  # type: ignore[arg-type]


def test_legend_and_cut_need_no_heavy_library() -> None:
    # DESIGN 4: legend and labels need neither libigl nor scipy, for they run inside Blender's own process
    both = "core.legend.legend, core.legend.legend_section"
    code = f"import sys, {both}; print({{'scipy', 'igl', 'trimesh'}} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "set()"


def test_high_has_its_own_steps() -> None:
    for unit in EDGES_MM:
        assert len(of_kind(legend(unit=unit), "high")) >= 3
