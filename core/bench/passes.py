"""How many passes to lay, how much to lay and buy, and when a place is too deep for the material."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import InputError
from .highs import comes_off
from .materials import Material

# Half a hundredth of a millimetre: nobody can scan, lay or file it, so it asks for no pass and no warning more.
_NO_MATTER_MM = 0.005


@dataclass(frozen=True)
class Quantity:
    """How much of a material a job takes, g, and what to buy.

    ``filings_g`` is what is filed away, laid less finished. ``bought_g`` is ``packs`` whole packs, each a
    ``pack_word``. ``hardener_g`` goes with all that is mixed; None where there is no hardener.
    """

    finished_mass_g: float
    laid_mass_g: float
    filings_g: float
    packs: int
    pack_word: str
    bought_g: float
    hardener_g: float | None


def laid_thickness_mm(depth_mm: float, overbuild_mm: float, material: Material) -> float:
    """Thickness to lay, mm, where the panel is ``depth_mm`` low: depth, overbuild, and what contraction takes.

    depth + overbuild + c/(1-c) depth, so that after contraction the depth is still filled. A place that stands
    proud (depth below 0) takes the overbuild alone.

    >>> from .materials import pick
    >>> round(laid_thickness_mm(2.0, 0.8, pick("polyester")), 3)
    2.841
    >>> laid_thickness_mm(0.0, 0.0, pick("polyester"))
    0.0
    """
    _check_finite(depth_mm=depth_mm, overbuild_mm=overbuild_mm)
    return max(depth_mm, 0.0) / (1.0 - material.contraction) + overbuild_mm


def passes(thickness_mm: float, material: Material) -> int:
    """Number of passes that lay ``thickness_mm``; 0 for nothing, and for a thickness below 0.

    A surplus under 0.005 mm over whole passes takes no pass more: 6 mm in passes of 2 mm are 3, however 6 was reckoned.

    >>> from .materials import pick
    >>> passes(2.8, pick("tin-lead-30-70"))
    2
    >>> passes(0.0, pick("tin-lead-30-70"))
    0
    """
    _check_finite(thickness_mm=thickness_mm)
    return max(0, math.ceil((thickness_mm - _NO_MATTER_MM) / material.pass_mm))


def quantity(finished_mm3: float, laid_mm3: float, material: Material) -> Quantity:
    """Masses, g, and packs for a finished and a laid volume, mm3; the laid one holds overbuild and contraction already.

    Masses are volume times the finished material's density. Laid volume is that before contraction, so laid mass and
    filings are high by the contraction's share of the laid mass (1 % for solder): on the safe side for buying.
    Packs hold the laid mass and the material's waste share of it on top; filings are in the laid mass and not
    counted again. Raises InputError where a volume is below 0 or not finite, or less is laid than is finished.

    >>> from .materials import pick
    >>> need = quantity(16_978.737, 30_000.0, pick("tin-lead-30-70"))
    >>> round(need.finished_mass_g, 1), round(need.filings_g, 1), need.packs, need.pack_word
    (165.0, 126.6, 1, 'stick')
    >>> quantity(0.0, 0.0, pick("tin-lead-30-70")).packs
    0
    """
    _check_volumes(finished_mm3, laid_mm3)
    finished_g = finished_mm3 / 1000.0 * material.density_g_cm3
    laid_g = laid_mm3 / 1000.0 * material.density_g_cm3
    needed_g = laid_g * (1.0 + material.waste_share)
    packs = math.ceil(needed_g / material.pack_g * (1.0 - 1e-9))  # a full pack, rounded up in its last bits, is one
    share = material.hardener_share
    return Quantity(
        finished_mass_g=finished_g,
        laid_mass_g=laid_g,
        filings_g=max(0.0, laid_g - finished_g),
        packs=packs,
        pack_word=material.pack_word,
        bought_g=packs * material.pack_g,
        hardener_g=None if share is None else needed_g * share,
    )


def depth_advice(
    depth_max_mm: float, material: Material, new_metal_mm: float = 10.0, surface: str = "bare"
) -> str | None:
    """A plain warning where the greatest depth, mm, is more than the material should be laid; None where it is not.

    Beyond ``new_metal_mm``, the user's own figure (10: common practice, no source), nothing is laid: a dent is hammered
    out from behind first, and what is no dent is new sheet. On any ``surface`` but bare metal what lies there comes off
    before that: nothing laid is hammered.

    >>> from .materials import pick
    >>> depth_advice(4.5, pick("tin-lead-30-70"))
    '4.5 mm deep; Tin-lead 30/70 (30 % tin) should be laid no deeper than 3.2 mm: bring the metal up first'
    >>> depth_advice(12.0, pick("tin-lead-30-70"))
    '12 mm deep, more than 10 mm: rough a dent out first, then scan again; rust, tears and cracks take new sheet, ...'
    >>> depth_advice(0.0, pick("tin-lead-30-70")) is None
    True
    """
    _check_finite(depth_max_mm=depth_max_mm, new_metal_mm=new_metal_mm)
    if new_metal_mm <= 0:
        raise InputError(f"new_metal_mm came as {new_metal_mm}; a depth above 0 mm is wanted")
    off = comes_off(surface)
    if depth_max_mm >= new_metal_mm + _NO_MATTER_MM:
        deep = f"{_beside(depth_max_mm, new_metal_mm)} deep, more than {_mm(new_metal_mm)}"
        return (f"{deep}: {off}rough a dent out first, then scan again; rust, tears and cracks take new sheet, and "
                "where the shape is designed so, build this in sheet")
    if depth_max_mm >= material.greatest_depth_mm + _NO_MATTER_MM:
        most = f"{material.title} should be laid no deeper than {_mm(material.greatest_depth_mm)}"
        return f"{_beside(depth_max_mm, material.greatest_depth_mm)} deep; {most}: {off}bring the metal up first"
    return None


def _mm(length_mm: float) -> str:
    """A length to a tenth, without a needless zero."""
    return f"{length_mm:.1f}".removesuffix(".0") + " mm"


def _beside(length_mm: float, limit_mm: float) -> str:
    """A length to a tenth, or to a hundredth where it would read like the limit that it exceeds."""
    return f"{length_mm:.2f} mm" if _mm(length_mm) == _mm(limit_mm) else _mm(length_mm)


def _check_finite(**lengths_mm: float) -> None:
    for name, length_mm in lengths_mm.items():
        if not math.isfinite(length_mm):
            raise InputError(f"{name} came as {length_mm}; a finite length in mm is wanted")


def _check_volumes(finished_mm3: float, laid_mm3: float) -> None:
    for name, volume_mm3 in (("finished_mm3", finished_mm3), ("laid_mm3", laid_mm3)):
        if not (math.isfinite(volume_mm3) and volume_mm3 >= 0):
            raise InputError(f"{name} came as {volume_mm3}; a volume in mm3, not below 0, is wanted")
    if laid_mm3 < finished_mm3 * (1.0 - 1e-9):
        raise InputError(
            f"laid_mm3 came as {laid_mm3}, below finished_mm3, {finished_mm3}; lay at least what is to stay"
        )
