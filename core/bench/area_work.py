"""What each area asks for: overbuild, volume to lay, passes, and what is left of it once deep metal is raised."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from ..depth.areas import Area
from ..depth.extent import length_and_width_mm, lows_beside
from ..depth.raised import raised_mm3
from ..depth.survey import Survey
from ..fill.overbuild import Hand, laid_volume_mm3, minimum_overbuild_mm
from ..surface.surface import Mask, Surface
from .lay_up import LayUp
from .materials import Material
from .passes import depth_advice, too_deep
from .quantity import Laid
from .tin_area import margin_area_mm2

# How much more evenly a steadier hand lays, and an unsteadier one: as an old hand and a new one do. No source.
STEADIER, UNSTEADIER = 2 / 3, 3 / 2


@dataclass(frozen=True)
class ToLay:
    """What is filled and laid, mm3, ``steadier_mm3`` and ``unsteadier_mm3`` by such a hand, and the greatest thickness
    to lay, mm, in so many ``passes``. Nothing for a high."""

    fill_mm3: float = 0.0
    laid_mm3: float = 0.0
    steadier_mm3: float = 0.0
    unsteadier_mm3: float = 0.0
    thickest_mm: float = 0.0
    passes: int = 0


@dataclass(frozen=True)
class AreaWork:
    """The work on one area; nothing is laid on a high. Lengths in mm, areas in mm2.

    ``raised``: what is to be laid once the metal is brought up to what the material may cover, or None where it is no
    deeper. ``advice``: a plain sentence where it is, or None. ``beside``: the lows that a high is on the edge of.
    """

    area: Area
    length_mm: float
    width_mm: float
    minimum_overbuild_mm: float = 0.0
    margin_area_mm2: float = 0.0
    as_it_lies: ToLay = ToLay()
    raised: ToLay | None = None
    too_deep_area_mm2: float = 0.0
    advice: str | None = None
    beside: tuple[str, ...] = ()

    @property
    def laid_volume_mm3(self) -> float:
        """Volume to lay on the area as it lies, mm3."""
        return self.as_it_lies.laid_mm3

    @property
    def passes(self) -> int:
        """Passes over its deepest place as it lies."""
        return self.as_it_lies.passes

    @property
    def recommended(self) -> ToLay:
        """Raised first where it is too deep for the material, else as it lies."""
        return self.as_it_lies if self.raised is None else self.raised


@dataclass(frozen=True)
class Laying:
    """How the material is to be laid: ``risk`` of a low spot in an area, the ``hand``, the tinned ``margin_mm``,
    and the depth ``new_metal_mm`` from which metal is worked first, and what the panel's
    ``surface`` was."""

    material: Material
    hand: Hand
    risk: float
    margin_mm: float
    new_metal_mm: float
    surface: str = "bare"


def summed(works: Iterable[AreaWork], raised: bool) -> Laid:
    """What all areas take together, as they lie or, where metal is too deep for the material, ``raised`` first."""
    lows = [work for work in works if work.area.kind == "low"]
    each = [work.recommended if raised else work.as_it_lies for work in lows]
    return Laid(
        sum(one.fill_mm3 for one in each), sum(one.laid_mm3 for one in each), sum(one.steadier_mm3 for one in each),
        sum(one.unsteadier_mm3 for one in each), sum(work.area.area_mm2 + work.margin_area_mm2 for work in lows),
    )


@dataclass(frozen=True)
class _Over:
    """The overbuild of one low, mm, by the own, a steadier and an unsteadier hand, and its margin, mm2."""

    own_mm: float
    steadier_mm: float
    unsteadier_mm: float
    margin_mm2: float


def area_works(panel: Surface, survey: Survey, laying: Laying) -> tuple[AreaWork, ...]:
    """The work on each of the survey's areas, in their order.

    Thickness and passes are counted with the greatest overbuild of all areas, so that one map and one legend hold for
    them all; the volume to lay with each area's own.
    """
    areas, limit = survey.areas, laying.material.greatest_depth_mm
    over = {
        place: _over(panel, area, areas.label == place, laying)
        for place, area in enumerate(areas.found, start=1) if area.kind == "low"
    }
    most = max((one.own_mm for one in over.values()), default=0.0)
    raised = raised_mm3(survey.sheets, areas.hemmed, len(areas.found), limit)
    return tuple(
        _low(panel, survey, place, laying, over[place], most, float(raised[place])) if place in over
        else AreaWork(area, *length_and_width_mm(panel, areas.label == place), beside=lows_beside(panel, areas, place))
        for place, area in enumerate(areas.found, start=1)
    )


def _over(panel: Surface, area: Area, inside: Mask, laying: Laying) -> _Over:
    def overbuild_mm(share: float) -> float:
        hand = replace(laying.hand, lay_sigma_mm=share * laying.hand.lay_sigma_mm)
        return minimum_overbuild_mm(laying.risk, area.area_mm2, area.perimeter_mm, hand, area.offset_mm)

    margin = margin_area_mm2(panel, inside, laying.margin_mm)
    return _Over(overbuild_mm(1.0), overbuild_mm(STEADIER), overbuild_mm(UNSTEADIER), margin)


def _low(
    panel: Surface, survey: Survey, place: int, laying: Laying, over: _Over, most_mm: float, raised_fill: float
) -> AreaWork:
    material, area, inside = laying.material, survey.areas.found[place - 1], survey.areas.label == place
    limit, lay_up = material.greatest_depth_mm, LayUp.of(material, most_mm)

    def to_lay(fill: float, depth_mm: float) -> ToLay:
        own, steadier, unsteadier = (
            laid_volume_mm3(fill, area.area_mm2, over.margin_mm2, t0, material.contraction)
            for t0 in (over.own_mm, over.steadier_mm, over.unsteadier_mm)
        )
        return ToLay(fill, own, steadier, unsteadier, lay_up.thickness_mm(depth_mm), lay_up.count(depth_mm))

    advice = depth_advice(area.depth_max_mm, material, laying.new_metal_mm, laying.surface)
    return AreaWork(
        area, *length_and_width_mm(panel, inside), over.own_mm, over.margin_mm2,
        to_lay(area.volume_mm3, area.depth_max_mm),
        to_lay(min(raised_fill, area.volume_mm3), limit) if too_deep(area.depth_max_mm, limit) else None,
        float(panel.vertex_areas[inside & (survey.steady.depth_mm > limit)].sum()),
        None if advice is None else f"{area.name}: {advice}",
    )
