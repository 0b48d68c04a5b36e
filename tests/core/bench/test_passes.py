from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.bench.materials import pick
from core.bench.passes import depth_advice, laid_thickness_mm, passes, quantity
from core.errors import InputError

SOLDER = pick("tin-lead-30-70")
POLYESTER = pick("polyester")
CAP_MM3 = 16_978.737  # spherical cap, mouth radius 60, depth 3 mm: pi h (3 a^2 + h^2)/6, handbook formula
NOT_FINITE = [float("nan"), float("inf"), float("-inf")]


def test_mass_of_a_spherical_cap() -> None:
    # 165.0 g of 30/70, from the cap's formula and the alloy's density, computed apart.
    need = quantity(CAP_MM3, CAP_MM3, SOLDER)
    assert need.finished_mass_g == pytest.approx(165.0, abs=0.05)
    assert need.laid_mass_g == need.finished_mass_g
    assert need.filings_g == 0


def test_a_pound_of_30_70_covers_234_cm2_at_2_mm() -> None:
    # 454 g is 46.7 cm3 and covers 234 cm2 at 2 mm: computed from 9.72 g/cm3 by hand, rounded to the last place shown.
    dripless = replace(SOLDER, waste_share=0.0)
    assert quantity(0.0, 46.7e3, SOLDER).laid_mass_g == pytest.approx(454, abs=0.5)  # 0.05 cm3 is 0.49 g
    assert quantity(0.0, 234e2 * 2.0, SOLDER).laid_mass_g == pytest.approx(454, abs=1)  # 0.5 cm2 is 0.97 g
    assert quantity(0.0, 46.70e3, dripless).packs == 1
    assert quantity(0.0, 46.72e3, dripless).packs == 2


def test_a_job_worked_by_hand() -> None:
    # 100 cm3 finished, 150 laid of 9.72: 972, 1458, 486 g; with a tenth on top 1603.8 g, four sticks of 454 (1816 g).
    need = quantity(100e3, 150e3, SOLDER)
    assert (need.finished_mass_g, need.laid_mass_g, need.filings_g) == pytest.approx((972.0, 1458.0, 486.0))
    assert (need.packs, need.pack_word, need.bought_g) == (4, "stick", 1816)
    assert need.hardener_g is None


def test_hardener_goes_with_all_that_is_mixed() -> None:
    # About 2 % by mass (from memory): 20 g to a kilogram mixed, of which 15 % sets on the board.
    laid_mm3 = 1000.0 / 1.15 / 1.7 * 1000.0
    assert quantity(0.0, laid_mm3, POLYESTER).hardener_g == pytest.approx(20.0)


def test_a_full_pack_is_one_pack() -> None:
    # 30 x 0.1 cm3 of 1 g/cm3 in packs of 0.1 g: in binary 0.1 x 3 / 0.1 is above 3.
    simple = replace(SOLDER, density_g_cm3=1.0, pack_g=0.1, waste_share=0.0)
    assert quantity(0.0, 0.1 * 3 * 1000, simple).packs == 3
    assert quantity(0.0, 0.3001 * 1000, simple).packs == 4
    assert quantity(0.0, 0.0, SOLDER).packs == 0
    assert quantity(0.0, 1e-3, SOLDER).packs == 1


@given(st.floats(0, 1e7), st.floats(0, 1e7), st.sampled_from([SOLDER, POLYESTER, pick("epoxy-metal")]))
def test_packs_are_enough_and_not_one_too_many(finished_mm3, over_mm3, material) -> None:  # type: ignore[no-untyped-def]
    need = quantity(finished_mm3, finished_mm3 + over_mm3, material)
    wanted_g = need.laid_mass_g + need.laid_mass_g * material.waste_share
    assert need.bought_g >= wanted_g * (1 - 1e-8)
    assert need.bought_g - material.pack_g <= wanted_g
    assert need.finished_mass_g + need.filings_g == pytest.approx(need.laid_mass_g)  # nothing gets lost


@pytest.mark.parametrize("bad", [*NOT_FINITE, -1.0])
def test_volumes_that_are_none(bad: float) -> None:
    with pytest.raises(InputError, match="finished_mm3 came as"):
        quantity(bad, 10.0, SOLDER)
    with pytest.raises(InputError, match="laid_mm3 came as"):
        quantity(0.0, bad, SOLDER)


def test_less_laid_than_finished_is_refused() -> None:
    with pytest.raises(InputError, match="laid_mm3 came as 9.0, below finished_mm3, 10.0"):
        quantity(10.0, 9.0, SOLDER)
    assert quantity(0.1 + 0.2, 0.3, SOLDER).filings_g == 0  # the same volume, summed in another order


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
