"""Records of finished shapes, line-ups and shapes weighed up, in short lines for a narrow column. numpy only.

``record`` is a job's, with its ``kind``, the job's name.
"""

from __future__ import annotations

from typing import Any

from ..legend import shop_units as shop
from ..legend.legend import INCH_MM
from .plan_lines import Line

_OF_SIX = {6: "in all 6 directions"}


def shape_lines(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """What is known about a finished shape that was made, by its kind.

    >>> shape_lines({"kind": "good_side", "off_mm_95": 0.125}, "mm")
    (Line(name='Mirror Image', value='within 0.12 mm', more='on 95 % of sound metal'),)
    >>> shape_lines({"kind": "carry_through", "trust_mm_95": None, "degrees": [4]}, "mm")[0].value
    'not known'
    >>> shape_lines({"kind": "metal_level"}, "mm")
    ()
    """
    kind = record["kind"]
    if kind == "good_side":
        within = _within("Mirror Image", record["off_mm_95"], "on 95 % of sound metal", unit)
        return (within, Line("Good Side", record["good_side"])) if record.get("good_side") else (within,)
    if kind == "carry_through":
        count = len(record["degrees"])
        places = f"{count} place{'' if count == 1 else 's'}"
        across = len(record.get("lines_mm", record.get("lines", ())))  # files of before have the shorter name, or none
        said = Line("Continued", f"{across} line{'' if across == 1 else 's'}", "drawn on the shape")
        lined = (said,) if across else ()
        if record["trust_mm_95"] is None:
            return (Line("Right", "not known", "too little sound metal"), Line("Carried", places), *lined)
        right = _within("Right", record["trust_mm_95"], "on sound metal near by (95 %)", unit)
        return (right, Line("Carried", places), *lined)
    if kind == "as_was":
        thickest = record["old_filler_mm"]["max"] if "old_filler_mm" in record else record["old_filler_max_mm"]
        return (Line("Old Filler", f"up to {shop.length(max(0.0, thickest), unit)}"),)
    if kind == "build_over":
        return (Line("Moved Out", fine(record["offset_mm"], unit)),
                Line("Fill in All", shop.volume(record["fill_mm3"], unit)), *_mass(record, unit))
    return ()


def _mass(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    mass_g = record.get("finished_mass_g", record.get("mass_g"))  # files of before have the shorter name, or none
    return () if mass_g is None else (Line("Mass", shop.mass(mass_g, unit), "finished"),)


def line_up_lines(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """How well a panel lies on its shape, how well it is held there, and how far it may still slide."""
    held = record["held_directions"]
    lines = [
        Line("On Sound Metal", f"within {fine(record['residual_mm'], unit)}",
             f"{record['sound_share']:.0%} of the panel"),
        Line("Can't Slide", _OF_SIX.get(held, f"in {held} of 6 directions")),
        Line("Slides by" if held == 6 else "Slides Otherwise", f"at most {fine(record['slide_u95_mm'], unit)}"),
    ]
    by = record.get("located_by")
    if by is not None:
        lines.append(Line("Located by", f"{by['holes']} of {by['of_holes']} holes",
                          f"{shop.length(by['rim_mm'], unit)} of edge"))
    if record.get("landmarks"):
        lines.append(Line("From", f"{record['landmarks']} pairs of points"))
    return tuple(lines)


def words(lines: tuple[Line, ...]) -> str:
    """Lines as one sentence for a status bar.

    >>> words((Line("Can't Slide", "in 5 of 6 directions"), Line("Slides Otherwise", "at most 0.1 mm", "lengthwise")))
    "can't slide in 5 of 6 directions; slides otherwise at most 0.1 mm, lengthwise"
    """
    return "; ".join(f"{line.name.lower()} {line.value}{', ' if line.more else ''}{line.more}" for line in lines)


def fine(mm: float, unit: str) -> str:
    """A small length: "0.12 mm", "0.0049 in"."""
    return f"{mm / INCH_MM:.4f} in" if unit == "inch" else f"{mm:.2f} mm"


def _within(name: str, mm: float | None, more: str, unit: str) -> Line:
    return Line(name, "not known") if mm is None else Line(name, f"within {fine(mm, unit)}", more)


def weighed_heading(unit: str) -> tuple[str, str, str]:
    """What stands over the columns of `weighed_figures`.

    >>> weighed_heading("inch")
    ('cu in', 'lb', 'packs')
    """
    return ("cu in", "lb", "packs") if unit == "inch" else ("cm³", "kg", "packs")


def weighed_figures(fill_mm3: float, laid_g: float, packs: int, rough: bool, unit: str) -> tuple[str, str, str]:
    """One shape's totals for a list, without units: fill, mass to lay, packs; rough ones marked.

    >>> weighed_figures(15248, 1234.5, 3, False, "mm")
    ('15.2', '1.23', '3')
    >>> weighed_figures(0, 0, 0, True, "inch")
    ('≈ 0.00', '0.00', '0')
    """
    fill = shop.volume(fill_mm3, unit).partition(" ")[0]
    mass = laid_g / shop.POUND_G if unit == "inch" else laid_g / 1000
    return f"≈ {fill}" if rough else fill, f"{mass:.2f}", str(packs)


def weighed_lines(one: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """The rest of what is known about one of the shapes weighed up."""
    return (
        Line("Deepest", shop.length(one["deepest_mm"], unit)),
        Line("Highs", shop.volume(one["high_mm3"], unit)),
        Line("To Lay", shop.mass(one["laid_mass_g"], unit),
             f"{one['packs']} {one['pack_word']}{'' if one['packs'] == 1 else 's'}"),
        Line("Too Deep", shop.area(one["too_deep_mm2"], unit), "for the material"),
        Line("Rough Out", shop.area(one["new_metal_mm2"], unit), "too deep to be filled"),
    )
