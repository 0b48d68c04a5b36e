"""Units: stated, fixed by the format, or mm where the size allows it."""

from __future__ import annotations

import pytest

from core.errors import InputError
from core.files.units import MM_PER_UNIT, chosen_unit, known_unit


def test_lengths_of_units() -> None:
    # NIST SP 811 (2008), appendix B: 1 in = 25.4 mm exactly, 1 ft = 0.3048 m exactly; so 12 in = 304.8 mm.
    assert dict(MM_PER_UNIT) == {"mm": 1, "cm": 10, "m": 1000, "in": 25.4}
    assert 12 * MM_PER_UNIT["in"] == pytest.approx(0.3048 * MM_PER_UNIT["m"], rel=1e-15)


@pytest.mark.parametrize(("word", "unit"), [("mm", "mm"), (" CM ", "cm"), ("M", "m"), ("in", "in"), ("inch", "in"),
                                            ("Inches", "in"), ('"', "in")])
def test_words_for_units(word: str, unit: str) -> None:
    assert known_unit(word, "panel") == unit


@pytest.mark.parametrize("word", ["", "ft", "mmm", "1", "metre"])
def test_unknown_words_are_refused_with_the_list(word: str) -> None:
    with pytest.raises(InputError, match=f"^target: the unit '{word}' is not known; use mm, cm, m or in$"):
        known_unit(word, "target")


# DESIGN 2: mm only from 50 mm to 20 m, ends included.
@pytest.mark.parametrize("diagonal", [50.0, 1200.0, 20_000.0])
def test_mm_where_the_size_allows_it(diagonal: float) -> None:
    unit, note = chosen_unit(None, None, diagonal, "panel")
    assert unit == "mm"
    assert note.startswith("panel: taken as mm")


@pytest.mark.parametrize("diagonal", [0.0, 1.2, 49.999, 20_000.001, 1e9, float("inf")])
def test_never_guessed_outside(diagonal: float) -> None:
    with pytest.raises(InputError, match="state it with --panel-unit or --target-unit$"):
        chosen_unit(None, None, diagonal, "panel")


def test_the_sentence_tells_the_size_in_each_unit() -> None:
    with pytest.raises(InputError) as caught:
        chosen_unit(None, None, 47.2, "panel")
    assert ("47.2 mm if the file is in mm, 472 mm if the file is in cm, 47.2 m if the file is in m or "
            "1.2 m if the file is in in;") in str(caught.value)  # 47.2 x 25.4 = 1198.88 mm


def test_a_stated_unit_is_obeyed_and_an_odd_size_is_said() -> None:
    assert chosen_unit("in", None, 47.2, "panel") == ("in", "panel: in, as stated; 1.2 m from corner to corner")
    unit, note = chosen_unit("m", None, 1200.0, "panel")
    assert unit == "m"
    assert "1 200 m from corner to corner, no size for a panel: check the unit" in note


def test_the_format_s_unit_is_used_unless_another_is_stated() -> None:
    assert chosen_unit(None, "m", 1.2, "panel")[0] == "m"
    assert "as its format always is" in chosen_unit(None, "m", 1.2, "panel")[1]
    unit, note = chosen_unit("mm", "m", 1200.0, "panel")
    assert (unit, "although its format is always in m" in note) == ("mm", True)
    assert "although" not in chosen_unit("m", "m", 1.2, "panel")[1]
    assert "check the unit" in chosen_unit(None, "m", 1200.0, "panel")[1]
