"""The page around a map: nothing overlaps or leaves the page, at any size, and the words say what the record says."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from core.bench.lay_up import LayUp
from core.errors import InputError
from core.legend.drawing import CHARACTER, Text
from core.legend.legend import legend
from core.picture.picture import Caption, aside, caption, page, scale_bar, sheet

SIZES = [(2100, 1485), (1400, 990), (640, 450), (1000, 1400), (4000, 900)]


def record(areas: int = 4, finish_mm: float = 0.0, fill: float = 19500.0) -> dict[str, Any]:
    area = {"number": 1, "kind": "low", "depth_max_mm": 4.48, "area_mm2": 9300.0, "volume_mm3": 15200.0, "passes": 3,
            "length_mm": 85.0, "width_mm": 30.0}
    return {
        "fill_volume_mm3": fill, "fill_volume_u95_mm3": 1900.0, "cut_volume_mm3": 700.0,
        "overbuild": {"minimum_mm": 1.1}, "settings": {"finish_mm": finish_mm},
        "material": {"title": "Tin-lead 30/70 (30 % tin)", "laid_mass_g": 384.0, "packs": 1, "pack_word": "stick",
                     "kind": "solder", "pack_g": 454.0, "laid_mass_steadier_g": 320.0, "laid_mass_unsteadier_g": 470.0},
        "areas": [*(area | {"number": k + 1} for k in range(areas - 1)),
                  area | {"kind": "high", "work": "tap down or shrink"}],
    }


def box_of(text: Text) -> tuple[float, float, float, float]:
    """Left, top, right, bottom; a character is taken 0.6 text sizes wide, which is on the wide side."""
    width = CHARACTER * len(text.text) * text.size
    left = text.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.anchor] * width
    return left, text.y - 0.8 * text.size, left + width, text.y + 0.25 * text.size


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("areas", [1, 4, 30])
def test_everything_has_its_place(width: int, height: int, areas: int) -> None:
    place = sheet(width, height)
    words = caption(record(areas), "Tailgate", "Square on", "25 November 2026", "mm")
    drawing = page(place, words, legend(0.25, 3.2), LayUp(2.0, 1.1, 0.0, "solder"))
    texts = [box_of(shape) for shape in drawing.shapes if isinstance(shape, Text)]
    for left, top, right, bottom in texts:
        assert left >= 0
        assert top >= 0
        assert right <= width
        assert bottom <= height
    for k, a in enumerate(texts):
        for b in texts[k + 1 :]:
            beside, slack = a[2] <= b[0] or b[2] <= a[0], 0.3 * place.size
            assert beside or a[3] <= b[1] + slack or b[3] <= a[1] + slack, (a, b)
    # title above, table and legend below: the map is left alone
    map_top, map_bottom = place.map.top, place.map.top + place.map.height
    assert all(bottom <= map_top or top >= map_bottom for _, top, _, bottom in texts)
    assert place.map.height > 0.3 * height


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_corner_and_scale_fit_their_boxes(width: int, height: int) -> None:
    place = sheet(width, height)
    words = caption(record(), "Tailgate", "As seen in the view", "25 November 2026", "mm")
    bars = [scale_bar(place, scale, unit) for scale in (0.07, 1.3, 40.0) for unit in ("mm", "inch")]
    for box, drawing in (aside(place, words), *bars):
        assert box.left + box.width <= width
        assert box.top + box.height <= height
        assert (drawing.width, drawing.height) == (box.width, box.height)
        for shape in drawing.shapes:
            corners = np.array(box_of(shape)).reshape(2, 2) if isinstance(shape, Text) else shape.points
            assert (corners >= 0).all()
            assert (corners <= [box.width, box.height]).all()


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("inch", 25.4)])
@pytest.mark.parametrize("scale", [0.013, 0.9, 7.7, 300.0])
def test_the_bar_is_as_long_as_it_says(unit: str, mm: float, scale: float) -> None:
    _, drawing = scale_bar(sheet(2100, 1485), scale, unit)
    *lines, text = drawing.shapes
    assert isinstance(text, Text)
    number, word = text.text.split()
    assert word == {"mm": "mm", "inch": "in"}[unit]
    assert np.ptp(lines[0].points[:, 0]) == pytest.approx(float(number) * mm * scale)  # type: ignore[union-attr]


def test_words_are_the_records() -> None:
    words = caption(record(), "door", "Square on", "1 May 2027", "mm")
    assert words.lines == (
        "Fill 19.5 cm³, give or take 1.9 cm³   highs up to 4.5 mm   lay at least 1.1 mm proud",
        "Tin-lead 30/70 (30 % tin)   320 to 470 g to lay, 1 stick of 454 g to buy",
        "finished shape as it is: no paint taken off",
    )
    assert words.aside == "Square on, 1 May 2027"
    assert words.table[0] == ("Low 1", "4.5 mm", "93 cm²", "15.2 cm³", "about 3 layers")
    assert words.table[-1] == ("High 1", "4.5 mm", "", "85 × 30 mm", "tap down or shrink")
    assert caption({**record(), "raised": {**record()["material"], "packs": 2}}, "d", "v", "", "mm").lines[1].count(
        "raised first: 320 to 470 g to lay, 2 sticks of 454 g to buy") == 1
    inches = caption(record(finish_mm=0.2), "door", "Square on", "", "inch")
    assert inches.lines[0].startswith("Fill 1.19 cu in")  # 19 500 mm3 / 25.4^3
    assert "0.0079 in of paint taken off" in inches.lines[2]
    nothing = caption(record(1, fill=0.0), "door", "v", "", "mm")
    assert "to lay" not in nothing.lines[1]
    assert "overbuild" not in nothing.lines[0]


def test_more_areas_than_room_are_counted() -> None:
    drawing = page(sheet(1400, 990), caption(record(30), "d", "v", "", "mm"), legend(), None)
    said = [shape.text for shape in drawing.shapes if isinstance(shape, Text)]
    shown = sum(text.startswith(("Low ", "High ")) for text in said)
    assert f"and {30 - shown} more" in said


def test_a_photographs_page_has_title_only_and_long_names_are_cut() -> None:
    place = sheet(640, 450)
    drawing = page(place, Caption("x" * 90, "", ("a", "b"), (("Low 1", "1", "1", "1", "1"),)), None)
    assert [shape.text for shape in drawing.shapes] == ["x" * 33 + "…", "a", "b"]  # type: ignore[union-attr]


@pytest.mark.parametrize(("width", "height"), [(639, 1000), (1000, 449), (8001, 1000)])
def test_sizes_that_cannot_be_are_refused(width: int, height: int) -> None:
    with pytest.raises(InputError, match=f"{width} by {height} pixels came"):
        sheet(width, height)
