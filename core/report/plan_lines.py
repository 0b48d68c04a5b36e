"""A plan's record in short lines for a narrow column: name, figure, and what goes with it. numpy only.

``record`` is what plan.json holds (`plan_record`), so that it can be read again without making the plan again.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from ..bench.cautions import ALWAYS, TITLES
from ..legend import shop_units as shop
from ..legend.legend import INCH_MM
from . import laying_words as words

LEAST_VIEW_MM = 120.0  # nearer than this to a small area, nobody knows any more where on the panel it is
_VIEW_RATIO = 3.0


@dataclass(frozen=True)
class Line:
    """One figure: ``name``, ``value`` and ``more``, which belongs to it and may be empty."""

    name: str
    value: str
    more: str = ""


def result_lines(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """Fill, highs, overbuild with its risks, mass and packs; fill alone where there is nothing to lay."""
    u95 = record["fill_volume_u95_mm3"]
    lines = [Line("Fill", shop.volume(record["fill_volume_mm3"], unit), f"give or take {shop.volume(u95, unit)}")]
    if record["cut_volume_mm3"]:
        lines += _high_lines([area for area in record["areas"] if area["kind"] == "high"], unit)
    if record["fill_volume_mm3"]:
        lines += _laying_lines(record, unit)
    return tuple(lines)


def first_lines(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """The few figures that one asks for first: what to fill, lay and buy, raised first where that is recommended."""
    raised, over = record.get("raised"), record["overbuild"]
    if not record["fill_volume_mm3"] or "laid_mass_steadier_g" not in record["material"]:
        return result_lines(record, unit)
    need = record["material"] if raised is None else raised
    fill = record["fill_volume_mm3"] if raised is None else raised["fill_volume_mm3"]
    return (
        Line("Fill", shop.volume(fill, unit), "" if raised is None else "metal raised first"),
        Line("Overbuild", f"lay at least {shop.length(over['minimum_mm'], unit)}", "proud, to file"),
        Line("To Lay", words.to_lay(need, unit)),
        Line("To Buy", words.to_buy(need, unit)),
    )


def _high_lines(highs: list[dict[str, Any]], unit: str) -> list[Line]:
    """How high at the most, and the highs that are part of a low's damage."""
    top = max((area["depth_max_mm"] for area in highs), default=0.0)
    beside = [Line(f"High {area['number']}", f"on the edge of {area['beside']}", words.ONE_DAMAGE)
              for area in highs if area.get("beside")]
    return [Line("Highs", f"up to {shop.length(top, unit)}"), *beside]


def _laying_lines(record: dict[str, Any], unit: str) -> list[Line]:
    over, material, raised = record["overbuild"], record["material"], record.get("raised")
    if "laid_mass_steadier_g" not in material:  # a file saved before hands, packs and paste were kept
        return [Line("To Lay", "plan again", "planned by a version that said less")]
    u95 = shop.mass(record["fill_volume_u95_mm3"] / 1000 * material["density_g_cm3"], unit)
    lines = [
        Line("Overbuild", f"lay at least {shop.length(over['minimum_mm'], unit)}", "proud, to file"),
        Line("Deepest Place", *words.at_deepest(record, unit)),
        Line("Still Low", shop.jobs(over["risk_job"]), f"still shows a low spot ({over['risk_job']:.0%})"),
    ]
    if raised is not None:
        lines.append(Line("As It Lies", "not recommended", "deeper than the material may be laid"))
    lines += _need_lines(material, f"give or take {u95}", record["settings"], unit)
    if raised is not None:
        deep = f"no deeper than {shop.length(raised['limit_mm'], unit)}"
        lines += [Line("Raised First", shop.volume(raised["fill_volume_mm3"], unit), f"{deep}, {words.LIMIT}"),
                  *_need_lines(raised, "", record["settings"], unit)]
    return lines


def _need_lines(need: dict[str, Any], give_or_take: str, settings: dict[str, Any], unit: str) -> list[Line]:
    """What is laid, filed off, bought and prepared, as the metal lies or raised first."""
    lines = [
        Line("Finished", shop.mass(need["finished_mass_g"], unit), give_or_take),
        Line("To Lay", words.to_lay(need, unit), f"from a steadier to an unsteadier hand; yours {_own(need, unit)}"),
        Line("Filed Off", *words.filed_off(need)),
        Line("To Buy", words.to_buy(need, unit), f"{settings['reserve_share']:.0%} in reserve"),
        Line(*words.to_prepare(need, unit)),
    ]
    if need["hardener_g"] is not None:
        lines.append(Line("Hardener", shop.mass(need["hardener_g"], unit)))
    return lines


def _own(need: dict[str, Any], unit: str) -> str:
    return shop.mass(need["laid_mass_g"], unit)


def condition_lines(record: dict[str, Any], unit: str) -> tuple[Line, ...]:
    """The panel's Scan Condition in a few lines: size, pieces, holes, roughness, what was mended and not judged."""
    condition, noise = record["panel"]["condition"], record["noise"]
    holes, mended = len(condition["holes"]), condition["notes"]
    triangles = f"{condition['triangles']:,}".replace(",", " ")
    return (
        Line("Triangles", triangles, f"edges {_fine(condition['mean_edge_mm'], unit)}"),
        Line("Holes", str(holes), f"in {_some(condition['pieces'], 'piece')}"),
        Line("Roughness", _fine(noise["sigma_mm"], unit), f"over {shop.length(noise['correlation_mm'], unit)}"),
        Line("Not Measured", f"{1 - record['judged_share']:.0%}"),
        Line("Mended", f"{_some(len(mended), 'thing')}" if mended else "nothing"),
    )


def condition_details(record: dict[str, Any], unit: str) -> tuple[str, ...]:
    """What was mended on both meshes, why metal was not judged, and where the noise is known from, in words."""
    found: list[str] = []
    for role, name in (("panel", "Panel"), ("target", "Finished shape")):
        condition = record[role]["condition"]
        notes = [*condition["notes"], *condition["turned"]]
        found += [f"{name}: {note}" for note in notes] or [f"{name}: nothing to mend"]
    reach = shop.length(record["settings"]["reach_mm"], unit)
    words = {"past_edge": "past the edge of the shape", "faces_away": "facing the other way",
             "too_far": f"further off than is looked ({reach}): rough a dent out first, then scan again"}
    left_out = record.get("not_judged_mm2", {})  # a file saved before these were kept has none
    found += [f"Not measured: {shop.area(left_out[key], unit)} {text}" for key, text in words.items()
              if left_out.get(key)]
    found.append(f"Roughness: {record['noise']['source']}")
    outside = record.get("outside_work_area_mm2")
    if outside:
        found.append(f"Outside the work area: {shop.area(outside, unit)}")
    return tuple(found)


def caution_groups(record: dict[str, Any]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The cautions by moment: a title and its sentences; in a file saved before they were grouped, all under one.

    >>> caution_groups({"cautions": [{"moment": "filing", "title": "Filing", "sentences": ["Wear a mask."]}]})
    (('Filing', ('Wear a mask.',)),)
    >>> caution_groups({"cautions": ["Wear a mask."]}), caution_groups({"cautions": []})
    ((('All the Time', ('Wear a mask.',)),), ())
    """
    said = record["cautions"]
    if said and isinstance(said[0], str):
        return ((TITLES[ALWAYS], tuple(said)),)
    return tuple((one["title"], tuple(one["sentences"])) for one in said)


def area_heading(unit: str, kind: str) -> tuple[str, str, str, str]:
    """What stands over the columns of `area_figures`, for a material of this ``kind``.

    >>> area_heading("mm", "filler"), area_heading("inch", "solder")
    (('mm', 'cm²', 'cm³', 'passes'), ('in', 'sq in', 'cu in', 'layers'))
    """
    last = "layers" if kind == "solder" else "passes"
    return ("in", "sq in", "cu in", last) if unit == "inch" else ("mm", "cm²", "cm³", last)


def area_figures(area: dict[str, Any], kind: str, unit: str) -> tuple[str, ...]:
    """One area's figures for a list: a low's depth, area, volume and passes, without units; a high's height and size.

    >>> low = {"kind": "low", "depth_max_mm": 4.48, "area_mm2": 9300, "volume_mm3": 15248, "passes": 3}
    >>> area_figures(low, "solder", "mm"), area_figures(low, "filler", "inch")
    (('4.5', '93', '15.2', '3'), ('0.176', '14.4', '0.93', '3'))
    >>> area_figures({"kind": "high", "depth_max_mm": 1.2, "length_mm": 84.6, "width_mm": 30.2}, "filler", "mm")
    ('1.2', '85 × 30 mm')
    """
    depth = shop.length(area["depth_max_mm"], unit).partition(" ")[0]
    if area["kind"] == "high":
        has_size = "length_mm" in area  # a file saved before it was kept has none
        return depth, words.size_across(area["length_mm"], area["width_mm"], unit) if has_size else ""
    figures = shop.area(area["area_mm2"], unit), shop.volume(area["volume_mm3"], unit)
    return depth, *(text.partition(" ")[0] for text in figures), str(area["passes"])


def view_width_mm(area_mm2: float) -> float:
    """How much of the panel to show, mm, so that an area is seen with its surroundings.

    >>> view_width_mm(10_000.0), view_width_mm(0.0)
    (300.0, 120.0)
    """
    return max(LEAST_VIEW_MM, _VIEW_RATIO * math.sqrt(area_mm2))


def _fine(mm: float, unit: str) -> str:
    return f"{mm / INCH_MM:.4f} in" if unit == "inch" else f"{mm:.2f} mm"


def _some(count: int, what: str) -> str:
    return f"1 {what}" if count == 1 else f"{count:,} {what}s".replace(",", " ")
