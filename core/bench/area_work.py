"""What each area asks for: overbuild, volume to lay, passes, and where it is too deep for the material."""

from __future__ import annotations

from dataclasses import dataclass

from ..depth.areas import Area
from ..depth.survey import Survey
from ..fill.overbuild import Hand, laid_volume_mm3, minimum_overbuild_mm
from ..surface.surface import Mask, Surface
from .materials import Material
from .passes import depth_advice, laid_thickness_mm, passes
from .tin_area import margin_area_mm2


@dataclass(frozen=True)
class AreaWork:
    """The work on one area; nothing is laid on a high. Lengths in mm, areas in mm2, volumes in mm3.

    ``advice``: a plain sentence where the area is deeper than the material should be laid, or None.
    """

    area: Area
    minimum_overbuild_mm: float
    margin_area_mm2: float
    laid_volume_mm3: float
    passes: int
    too_deep_area_mm2: float
    advice: str | None


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


def area_works(panel: Surface, survey: Survey, laying: Laying) -> tuple[AreaWork, ...]:
    """The work on each of the survey's areas, in their order."""
    return tuple(
        _low(panel, survey, area, survey.areas.label == place, laying) if area.kind == "low"
        else AreaWork(area, 0.0, 0.0, 0.0, 0, 0.0, None)
        for place, area in enumerate(survey.areas.found, start=1)
    )


def _low(panel: Surface, survey: Survey, area: Area, inside: Mask, laying: Laying) -> AreaWork:
    material = laying.material
    t0 = minimum_overbuild_mm(laying.risk, area.area_mm2, area.perimeter_mm, laying.hand, area.offset_mm)
    margin = margin_area_mm2(panel, inside, laying.margin_mm)
    laid = laid_volume_mm3(area.volume_mm3, area.area_mm2, margin, t0, material.contraction)
    thickest = laid_thickness_mm(area.depth_max_mm, t0, material)
    too_deep = inside & (survey.steady.depth_mm > material.greatest_depth_mm)
    advice = depth_advice(area.depth_max_mm, material, laying.new_metal_mm, laying.surface)
    return AreaWork(
        area, t0, margin, laid, passes(thickest, material), float(panel.vertex_areas[too_deep].sum()),
        None if advice is None else f"{area.name}: {advice}",
    )
