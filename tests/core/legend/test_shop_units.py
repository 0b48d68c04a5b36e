"""Shop units against exact values, inch 25.4 mm and pound 453.59237 g (NIST Special Publication 811, 2008)."""

from __future__ import annotations

import numpy as np
import pytest

from core.errors import InputError
from core.legend import shop_units as shop


def number(text: str) -> float:
    return float(text.partition(" ")[0])


@pytest.mark.parametrize("mm", [0.2, 1.0, 4.48, 25.4, 700.0])
def test_lengths_areas_volumes_agree_between_the_units(mm: float) -> None:
    assert number(shop.length(mm, "inch")) * 25.4 == pytest.approx(mm, abs=0.0005 * 25.4)
    assert number(shop.length(mm, "mm")) == pytest.approx(mm, abs=0.05)
    mm2, mm3 = 1000 * mm, 10_000 * mm
    assert number(shop.area(mm2, "inch")) * 25.4**2 == pytest.approx(mm2, abs=max(0.05 * 25.4**2, 0.005 * mm2))
    assert number(shop.area(mm2, "mm")) * 100 == pytest.approx(mm2, abs=max(5.0, 0.05 * mm2))
    inch3 = 25.4**3  # half of the last figure shown: hundredths up to ten, tenths from there; tenths up to a hundred
    half = (0.005 if mm3 < 10 * inch3 else 0.05) * inch3
    assert number(shop.volume(mm3, "inch")) * inch3 == pytest.approx(mm3, abs=half)
    assert number(shop.volume(mm3, "mm")) * 1000 == pytest.approx(mm3, abs=50 if mm3 < 1e5 else 500)


def test_masses_change_to_the_larger_unit_at_one_of_it() -> None:
    assert (shop.mass(999.4, "mm"), shop.mass(1000.0, "mm")) == ("999 g", "1.00 kg")
    assert (shop.mass(453.0, "inch"), shop.mass(453.59237, "inch")) == ("16.0 oz", "1.0 lb")
    assert shop.mass(28.349523125, "inch") == "1.0 oz"


def test_size_warns_at_50_mm_and_20_m() -> None:
    """The bounds of DESIGN 2: from corner to corner."""
    side = 1 / np.sqrt(3)
    for diagonal, word in ((49.9, "small"), (50.1, ""), (19_999.0, ""), (20_001.0, "large")):
        said = shop.size_warning((diagonal * side,) * 3)
        assert bool(said) is bool(word)
        assert word in said


def test_the_tape_gives_the_same_scale_wherever_the_points_lie() -> None:
    rng = np.random.default_rng(3)
    first, way = rng.normal(size=(2, 3))
    turn, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    expected = shop.mm_per_unit_from_tape(first, first + way, 500.0)
    assert expected * np.linalg.norm(way) == pytest.approx(500.0)
    assert shop.mm_per_unit_from_tape(turn @ first, turn @ (first + way), 500.0) == pytest.approx(expected)
    for taped in (0.0, -1.0, float("nan")):
        with pytest.raises(InputError, match="taped distance"):
            shop.mm_per_unit_from_tape(first, first + way, taped)
