"""What a job takes and what to buy, by hand from densities and shares, and by brute force over packs."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.bench.materials import Material, load, pick
from core.bench.quantity import Laid, Quantity, quantity
from core.errors import InputError

SOLDER = pick("tin-lead-30-70")
POLYESTER = pick("polyester")
CAP_MM3 = 16_978.737  # spherical cap, mouth radius 60, depth 3 mm: pi h (3 a^2 + h^2)/6, handbook formula
NOT_FINITE = [float("nan"), float("inf"), float("-inf")]


def taken(fill_mm3: float, laid_mm3: float, material: Material, reserve_share: float = 0.0) -> Quantity:
    """What a job takes whose hand is as steady as any."""
    return quantity(Laid(fill_mm3, laid_mm3, laid_mm3, laid_mm3), material, reserve_share)


def test_mass_of_a_spherical_cap() -> None:
    # 165.0 g of 30/70, from the cap's formula and the alloy's density, computed apart.
    need = taken(CAP_MM3, CAP_MM3, SOLDER)
    assert need.finished_mass_g == pytest.approx(165.0, abs=0.05)
    assert need.laid_mass_g == need.finished_mass_g
    assert need.filings_g == 0


def test_a_pound_of_30_70_covers_234_cm2_at_2_mm() -> None:
    # 454 g is 46.7 cm3 and covers 234 cm2 at 2 mm: computed from 9.72 g/cm3 by hand, rounded to the last place shown.
    dripless = replace(SOLDER, waste_share=0.0)
    assert taken(0.0, 46.7e3, SOLDER).laid_mass_g == pytest.approx(454, abs=0.5)  # 0.05 cm3 is 0.49 g
    assert taken(0.0, 234e2 * 2.0, SOLDER).laid_mass_g == pytest.approx(454, abs=1)  # 0.5 cm2 is 0.97 g
    assert taken(0.0, 46.70e3, dripless).packs == 1
    assert taken(0.0, 46.72e3, dripless).packs == 2


def test_a_job_worked_by_hand() -> None:
    # 100 cm3 finished, 150 laid of 9.72: 972, 1458, 486 g; with a tenth on top 1603.8 g, four sticks of 454 (1816 g).
    need = taken(100e3, 150e3, SOLDER)
    assert (need.finished_mass_g, need.laid_mass_g, need.filings_g) == pytest.approx((972.0, 1458.0, 486.0))
    assert (need.packs, need.pack_word, need.bought_g) == (4, "stick", 1816)
    assert need.hardener_g is None


def test_hardener_goes_with_all_that_is_mixed() -> None:
    # About 2 % by mass (from memory): 20 g to a kilogram mixed, of which 15 % sets on the board.
    laid_mm3 = 1000.0 / 1.15 / 1.7 * 1000.0
    assert taken(0.0, laid_mm3, POLYESTER).hardener_g == pytest.approx(20.0)


def test_a_full_pack_is_one_pack() -> None:
    # 30 x 0.1 cm3 of 1 g/cm3 in packs of 0.1 g: in binary 0.1 x 3 / 0.1 is above 3.
    simple = replace(SOLDER, density_g_cm3=1.0, pack_g=0.1, waste_share=0.0)
    assert taken(0.0, 0.1 * 3 * 1000, simple).packs == 3
    assert taken(0.0, 0.3001 * 1000, simple).packs == 4
    assert taken(0.0, 0.0, SOLDER).packs == 0
    assert taken(0.0, 1e-3, SOLDER).packs == 1


@given(st.floats(0, 1e7), st.floats(0, 1e7), st.sampled_from([SOLDER, POLYESTER, pick("epoxy-metal")]))
def test_packs_are_enough_and_not_one_too_many(finished_mm3, over_mm3, material) -> None:  # type: ignore[no-untyped-def]
    need = taken(finished_mm3, finished_mm3 + over_mm3, material)
    wanted_g = need.laid_mass_g + need.laid_mass_g * material.waste_share
    assert need.bought_g >= wanted_g * (1 - 1e-8)
    assert need.bought_g - material.pack_g <= wanted_g
    assert need.finished_mass_g + need.filings_g == pytest.approx(need.laid_mass_g)  # nothing gets lost


@pytest.mark.parametrize("bad", [*NOT_FINITE, -1.0])
def test_volumes_that_are_none(bad: float) -> None:
    with pytest.raises(InputError, match="fill_mm3 came as"):
        taken(bad, 10.0, SOLDER)
    with pytest.raises(InputError, match="laid_mm3 came as"):
        taken(0.0, bad, SOLDER)


def test_less_laid_than_finished_is_refused() -> None:
    with pytest.raises(InputError, match="laid_mm3 came as 9.0, below fill_mm3, 10.0"):
        taken(10.0, 9.0, SOLDER)
    assert taken(0.1 + 0.2, 0.3, SOLDER).filings_g == 0  # the same volume, summed in another order


def test_the_reserve_is_in_the_packs_and_nowhere_else() -> None:
    """By hand: 300 cm3 of 9.72 and a tenth on top are 3207.6 g, 8 sticks of 454; a quarter more is 4009.5 g, 9."""
    bare, safe = (taken(0.0, 300e3, SOLDER, share) for share in (0.0, 0.25))
    assert (bare.packs, safe.packs) == (8, 9)
    assert replace(safe, packs=8, bought_g=bare.bought_g) == bare


@given(st.floats(1, 1e7), st.floats(0, 2), st.sampled_from(sorted(load())))
def test_nobody_goes_back_for_more(laid_mm3: float, reserve: float, name: str) -> None:
    """Identity: what is bought holds what is laid, wasted and kept in reserve, and one pack fewer would not."""
    material = pick(name)
    need = taken(0.0, laid_mm3, material, reserve)
    wanted_g = laid_mm3 / 1000 * material.density_g_cm3 * (1 + material.waste_share) * (1 + reserve)
    assert wanted_g * (1 - 1e-8) <= need.bought_g < wanted_g * (1 + 1e-8) + material.pack_g
    assert need.bought_g == need.packs * need.pack_g


def test_the_masses_of_other_hands_and_the_share_filed_off() -> None:
    """By hand: volume times 9.72 g/cm3; 15 of 25 cm3 laid are filed off, 60 %."""
    need = quantity(Laid(10e3, 25e3, 20e3, 32e3), SOLDER)
    assert (need.steadier_mass_g, need.laid_mass_g, need.unsteadier_mass_g) == pytest.approx((194.4, 243.0, 311.04))
    assert need.filed_share == pytest.approx(0.6)
    assert taken(0.0, 0.0, SOLDER).filed_share == 0.0


def test_paste_and_flux_go_by_what_is_tinned() -> None:
    """By hand: 180 cm2 at 0.1 and 0.02 g/cm2 (common practice); nothing is tinned under filler."""
    tinned = Laid(10e3, 25e3, 20e3, 32e3, 18_000.0)
    solder = replace(SOLDER, paste_g_cm2=0.1, flux_g_cm2=0.02)
    need = quantity(tinned, solder)
    assert (need.paste_g, need.flux_g) == pytest.approx((18.0, 3.6))
    filler = quantity(tinned, POLYESTER)
    assert (filler.paste_g, filler.flux_g) == (None, None)
    for material in load().values():
        assert (material.paste_g_cm2 is not None) == (material.flux_g_cm2 is not None) == (material.kind == "solder")
