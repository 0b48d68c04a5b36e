"""Whether a panel that is planned as bare metal looks as if solder, filler or primer lay on it.

The depth alone can't tell: metal that was raised too far lies where a low was, just as solder does, and a bulge from
behind is as wide as a laid patch. So what is found here is asked, never taken for granted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from ..errors import InputError
from ..surface.surface import Surface
from .survey import Survey

# All common practice, no source. A ridge of bent metal is narrower; a laid patch stands no further proud on the mean.
_WIDE_MM, _NARROW_PATCH_MM, _LARGE_MM2, _PROUDEST_MM = 30.0, 20.0, 2500.0, 4.0
_MOSTLY = 3.0  # bent metal lies low more than it lies high
_COVERED = 0.5  # of the low that was there
_NEAR_MM = 10.0  # what the panel may be off along itself, or be laid proud


@dataclass(frozen=True)
class KnownLow:
    """A low that a plan before has found: its ``name``, ``deepest_point_mm`` in the finished shape's frame and depth
    there, its ``area_mm2``."""

    name: str
    deepest_point_mm: tuple[float, float, float]
    depth_max_mm: float
    area_mm2: float

    def as_dict(self) -> dict[str, Any]:
        """By name, for JSON."""
        return asdict(self)


@dataclass(frozen=True)
class LooksLaid:
    """A high's ``place`` in the areas from 1, and the names of the lows before that it lies over, which may be none."""

    place: int
    over: tuple[str, ...]


def known_lows(record: Mapping[str, Any]) -> tuple[KnownLow, ...]:
    """The lows of a plan's record (plan.json), and those that it knew from plans before and no longer has.

    Raises InputError where it is no plan.
    """
    try:
        own = [_known(area) for area in record["areas"] if area["kind"] == "low"]
        older = [_known(low) for low in record.get("lows_before", ())]
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise InputError("the plan before: it is no plan of Fillwright's; give the folder that one was written to"
                         ) from error
    return (*own, *(low for low in older if not any(_same(low, one) for one in own)))


def gone(before: tuple[KnownLow, ...], found: Survey) -> tuple[KnownLow, ...]:
    """Those of the lows ``before`` that are no low any more: filled, raised, or left out of this plan."""
    own = [KnownLow(area.name, area.deepest_point_mm, area.depth_max_mm, area.area_mm2)
           for area in found.areas.of_kind("low")]
    return tuple(low for low in before if not any(_same(low, one) for one in own))


def looks_laid(panel: Surface, found: Survey, before: tuple[KnownLow, ...] = ()) -> tuple[LooksLaid, ...]:
    """The highs that look laid: those over a low ``before``, or, where no plan before is known, wide ones that make
    up most of what is off."""
    areas = found.areas.found
    over = _over(panel, found, before)
    if over or before:
        return tuple(LooksLaid(place, tuple(names)) for place, names in sorted(over.items()))
    low_mm2 = sum(area.area_mm2 for area in areas if area.kind == "low")
    wide = [
        place for place, area in enumerate(areas, start=1)
        if area.kind == "high" and area.area_mm2 >= _LARGE_MM2 and _width_mm(area) >= _WIDE_MM
        and area.volume_mm3 <= _PROUDEST_MM * area.area_mm2
    ]
    if sum(areas[place - 1].area_mm2 for place in wide) <= _MOSTLY * low_mm2:
        return ()
    return tuple(LooksLaid(place, ()) for place in wide)


def _over(panel: Surface, found: Survey, before: tuple[KnownLow, ...]) -> dict[int, list[str]]:
    """By the place of a high, the lows that it covers."""
    over: dict[int, list[str]] = {}
    for low in before:
        off = np.linalg.norm(panel.vertices + panel.origin - np.array(low.deepest_point_mm), axis=1)
        nearest = int(off.argmin())
        place = int(found.areas.label[nearest])
        if place == 0 or off[nearest] > low.depth_max_mm + _NEAR_MM:
            continue
        area = found.areas.found[place - 1]
        wide = _width_mm(area) >= _NARROW_PATCH_MM and area.area_mm2 >= _COVERED * low.area_mm2
        if area.kind == "high" and wide:
            over.setdefault(place, []).append(low.name)
    return over


def _width_mm(area: Any) -> float:
    """The diameter of a disc with its ratio of area to outline."""
    return float(4 * area.area_mm2 / max(area.perimeter_mm, 1e-9))


def _known(low: Mapping[str, Any]) -> KnownLow:
    x, y, z = (float(value) for value in low["deepest_point_mm"])
    name = low["name"] if "name" in low else f"Low {low['number']}"
    return KnownLow(str(name), (x, y, z), float(low["depth_max_mm"]), float(low["area_mm2"]))


def _same(one: KnownLow, other: KnownLow) -> bool:
    apart = np.linalg.norm(np.subtract(one.deepest_point_mm, other.deepest_point_mm))
    return bool(apart < np.sqrt(max(one.area_mm2, other.area_mm2) / np.pi))
