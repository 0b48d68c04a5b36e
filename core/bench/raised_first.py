"""The same job once metal too deep for the material is brought up: what is recommended wherever there is such metal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .area_work import AreaWork, summed
from .materials import Material
from .quantity import Quantity, quantity


@dataclass(frozen=True)
class Raised:
    """What is filled and laid with no metal deeper than ``limit_mm``, mm3, and how much that takes.

    The limit is what the material may cover at most, no depth to aim at: the less is filled, the better.
    """

    limit_mm: float
    fill_mm3: float
    laid_mm3: float
    quantity: Quantity


def raised_first(works: Sequence[AreaWork], material: Material, reserve_share: float) -> Raised | None:
    """The job of all ``works`` with the metal raised first; None where none of it is too deep for the ``material``.

    >>> from .materials import pick
    >>> raised_first([], pick("tin-lead-30-70"), 0.25) is None
    True
    """
    if all(work.raised is None for work in works):
        return None
    laid = summed(works, raised=True)
    return Raised(
        material.greatest_depth_mm, laid.fill_mm3, laid.laid_mm3, quantity(laid, material, reserve_share)
    )
