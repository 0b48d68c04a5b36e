from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.bench.materials import pick
from core.bench.passes import depth_advice, laid_thickness_mm, passes
from core.errors import InputError

SOLDER = pick("tin-lead-30-70")
POLYESTER = pick("polyester")
NOT_FINITE = [float("nan"), float("inf"), float("-inf")]


def test_whole_passes_are_not_rounded_up() -> None:
    assert passes(6.0, SOLDER) == 3
    third = replace(SOLDER, pass_mm=0.1)
    assert 0.3 / 0.1 < 3 < (0.1 * 3) / 0.1  # in binary
    assert passes(0.3, third) == passes(0.1 * 3, third) == 3
    # 1/8 in in passes of 1/16 in is two.
    assert passes(25.4 / 8, replace(SOLDER, pass_mm=25.4 / 16)) == 2
    assert passes(6.01, SOLDER) == 4
    assert passes(0.01, SOLDER) == 1


def test_nothing_to_lay_takes_no_pass() -> None:
    assert [passes(thickness_mm, SOLDER) for thickness_mm in (0.0, -0.0, -2.5, 1e-12)] == [0, 0, 0, 0]


@given(st.floats(0, 100), st.floats(0.3, 10))
def test_passes_reach_the_thickness_and_one_fewer_does_not(thickness_mm: float, pass_mm: float) -> None:
    count = passes(thickness_mm, replace(SOLDER, pass_mm=pass_mm))
    assert count * pass_mm > thickness_mm - 0.0051  # brute force: lay them
    assert count == 0 or (count - 1) * pass_mm < thickness_mm


@given(st.floats(0, 20), st.floats(0, 0.5))
def test_laid_thickness_contracts_to_the_depth(depth_mm: float, contraction: float) -> None:
    # The definition of contraction: what is laid without overbuild shrinks to the depth.
    material = replace(POLYESTER, contraction=contraction)
    assert laid_thickness_mm(depth_mm, 0.0, material) * (1 - contraction) == pytest.approx(depth_mm)


def test_laid_thickness_by_hand() -> None:
    # 3 mm of a filler that loses 2 %: 3/0.98 = 3.0612 mm, with 0.8 mm of overbuild 3.8612 mm: two spreads of 3 mm.
    thickness_mm = laid_thickness_mm(3.0, 0.8, POLYESTER)
    assert thickness_mm == pytest.approx(3.8612, abs=5e-5)
    assert passes(thickness_mm, POLYESTER) == 2
    assert laid_thickness_mm(-2.0, 0.8, POLYESTER) == 0.8  # it stands proud: nothing to fill


@pytest.mark.parametrize("bad", NOT_FINITE)
def test_lengths_that_are_none(bad: float) -> None:
    with pytest.raises(InputError, match="thickness_mm came as"):
        passes(bad, SOLDER)
    with pytest.raises(InputError, match="depth_mm came as"):
        laid_thickness_mm(bad, 0.5, SOLDER)
    with pytest.raises(InputError, match="overbuild_mm came as"):
        laid_thickness_mm(1.0, bad, SOLDER)
    with pytest.raises(InputError, match="depth_max_mm came as"):
        depth_advice(bad, SOLDER)
    with pytest.raises(InputError, match="new_metal_mm came as"):
        depth_advice(1.0, SOLDER, bad)


def test_advice_by_depth() -> None:
    # No deeper than 1/8 in (body-repair textbooks), written 3.2 mm; 10 mm: common practice, no source.
    assert depth_advice(25.4 / 8, SOLDER) is None
    assert depth_advice(3.2, SOLDER) is None
    assert depth_advice(-5.0, SOLDER) is None
    advice = depth_advice(3.21, SOLDER)
    assert advice is not None
    assert "3.21 mm deep" in advice
    assert "no deeper than 3.2 mm: bring the metal up first" in advice
    assert "bring the metal up first" in (depth_advice(10.0, SOLDER) or "")
    advice = depth_advice(10.01, SOLDER)
    assert advice is not None
    assert "rough a dent out first, then scan again" in advice
    assert "rust, tears and cracks take new sheet" in advice
    assert "build this in sheet" in advice
    assert "bring the metal up" not in advice


def test_the_user_sets_where_new_metal_starts() -> None:
    assert "bring the metal up first" in (depth_advice(12.0, SOLDER, new_metal_mm=15.0) or "")
    assert "more than 2 mm: rough a dent out first" in (depth_advice(3.0, SOLDER, new_metal_mm=2.0) or "")
    for bad in (0.0, -1.0):
        with pytest.raises(InputError, match="new_metal_mm came as"):
            depth_advice(3.0, SOLDER, new_metal_mm=bad)


def test_each_material_has_its_own_depth() -> None:
    # 5 mm: too deep for polyester (textbooks: about 1/8 in finished), not for epoxy (6 mm, from memory).
    assert depth_advice(5.0, POLYESTER) is not None
    assert depth_advice(5.0, pick("epoxy-metal")) is None
