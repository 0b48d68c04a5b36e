"""How many passes to lay, and when a place is too deep for the material."""

from __future__ import annotations

import math
from typing import Protocol

from ..errors import InputError
from .highs import comes_off
from .materials import Material

# Half a hundredth of a millimetre: nobody can scan, lay or file it, so it asks for no pass and no warning more.
_NO_MATTER_MM = 0.005


class Laid(Protocol):
    """What is laid in passes: the thickness of one, mm, and the share of it that contraction takes."""

    @property
    def pass_mm(self) -> float: ...

    @property
    def contraction(self) -> float: ...


def laid_thickness_mm(depth_mm: float, overbuild_mm: float, material: Laid) -> float:
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


def passes(thickness_mm: float, material: Laid) -> int:
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


def too_deep(depth_mm: float, limit_mm: float) -> bool:
    """Whether a depth is more than a limit, both mm, by so much that anybody could tell (0.005 mm).

    >>> too_deep(3.3, 3.2), too_deep(3.2, 3.2)
    (True, False)
    """
    return depth_mm >= limit_mm + _NO_MATTER_MM


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
    if too_deep(depth_max_mm, new_metal_mm):
        deep = f"{_beside(depth_max_mm, new_metal_mm)} deep, more than {_mm(new_metal_mm)}"
        return (f"{deep}: {off}rough a dent out first, then scan again; rust, tears and cracks take new sheet, and "
                "where the shape is designed so, build this in sheet")
    if too_deep(depth_max_mm, material.greatest_depth_mm):
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
