"""How much of a material a job takes, what to buy, and how much of it is filed off again."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import InputError
from .materials import Material

MUCH_FILED_SHARE = 0.40  # from here it pays to lay closer; common practice, no source


@dataclass(frozen=True)
class Laid:
    """What a job fills and lays, mm3, by the own hand, a steadier and an unsteadier one, and what is tinned or keyed,
    mm2. The laid volumes hold overbuild and contraction."""

    fill_mm3: float
    laid_mm3: float
    steadier_mm3: float
    unsteadier_mm3: float
    prepared_mm2: float = 0.0


@dataclass(frozen=True)
class Quantity:
    """How much of a material a job takes, g, and what to buy.

    ``laid_mass_g`` by the own hand, between that of a steadier and of an unsteadier one. ``filings_g`` is what is filed
    away, laid less finished. ``bought_g`` is ``packs`` whole packs of ``pack_g``, each a ``pack_word``. ``hardener_g``
    goes with all that is mixed, ``paste_g`` or ``flux_g`` over the ``prepared_mm2`` that are tinned; None where the
    material takes none.
    """

    finished_mass_g: float
    laid_mass_g: float
    steadier_mass_g: float
    unsteadier_mass_g: float
    filings_g: float
    packs: int
    pack_word: str
    pack_g: float
    bought_g: float
    hardener_g: float | None
    prepared_mm2: float
    paste_g: float | None
    flux_g: float | None

    @property
    def filed_share(self) -> float:
        """Share of the laid mass that is filed off again; 0 where nothing is laid."""
        return self.filings_g / self.laid_mass_g if self.laid_mass_g > 0 else 0.0


def quantity(laid: Laid, material: Material, reserve_share: float = 0.0) -> Quantity:
    """Masses, g, and packs for a job.

    Masses are volume times the finished material's density. Laid volume is that before contraction, so laid mass and
    filings are high by the contraction's share of the laid mass (1 % for solder): on the safe side for buying.
    Packs hold the laid mass, the material's waste share of it on top, and of both the ``reserve_share``, so that nobody
    goes back for more; filings are in the laid mass and not counted again. Raises InputError where a volume is below 0
    or not finite, or less is laid than is finished.

    >>> from .materials import pick
    >>> need = quantity(Laid(16_978.737, 30_000.0, 25_000.0, 37_000.0, 18_000.0), pick("tin-lead-30-70"), 0.25)
    >>> round(need.finished_mass_g, 1), round(need.filings_g, 1), need.packs, need.pack_word, round(need.filed_share, 2)
    (165.0, 126.6, 1, 'stick', 0.43)
    >>> quantity(Laid(0.0, 0.0, 0.0, 0.0), pick("tin-lead-30-70"), 0.25).packs
    0
    """
    _check(laid)
    finished, own, steadier, unsteadier = (
        volume / 1000.0 * material.density_g_cm3
        for volume in (laid.fill_mm3, laid.laid_mm3, laid.steadier_mm3, laid.unsteadier_mm3)
    )
    needed = own * (1.0 + material.waste_share)
    # A full pack, rounded up in its last bits, is one.
    packs = math.ceil(needed * (1.0 + reserve_share) / material.pack_g * (1.0 - 1e-9))
    return Quantity(
        finished, own, steadier, unsteadier, max(0.0, own - finished), packs, material.pack_word, material.pack_g,
        packs * material.pack_g, _spread(material.hardener_share, needed),
        laid.prepared_mm2, _spread(material.paste_g_cm2, laid.prepared_mm2 / 100.0),
        _spread(material.flux_g_cm2, laid.prepared_mm2 / 100.0),
    )


def _spread(coverage: float | None, over: float) -> float | None:
    return None if coverage is None else coverage * over


def _check(laid: Laid) -> None:
    for name, size in vars(laid).items():
        if not (math.isfinite(size) and size >= 0):
            raise InputError(f"{name} came as {size}; a size in {name.rsplit('_', 1)[1]}, not below 0, is wanted")
    if laid.laid_mm3 < laid.fill_mm3 * (1.0 - 1e-9):
        raise InputError(
            f"laid_mm3 came as {laid.laid_mm3}, below fill_mm3, {laid.fill_mm3}; lay at least what is to stay"
        )
