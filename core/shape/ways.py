"""The ways in which a damaged place may be filled: polynomials of different highest degrees, and a thin plate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from ..surface.surface import Floats, Mask
from .patch import HIGHEST, Feature, fit_patch
from .plate import fit_plate


class Fill(Protocol):
    """A surface over the plane of a place, as `Patch` is one."""

    @property
    def degree(self) -> int: ...

    @property
    def foretold_mm(self) -> float: ...

    def height(self, uv: Floats) -> Floats: ...

    def doubt_mm(self, uv: Floats) -> float: ...


@dataclass(frozen=True)
class Way:
    """A polynomial of at most degree ``highest``, or, with a ``plate``, one hung over the polynomial of that degree;
    ``lined``: with the lines across the place continued."""

    highest: int
    plate: bool = False
    lined: bool = False

    def fill(
        self, uv: Floats, height_mm: Floats, area_mm2: Floats, creases: tuple[Feature, ...],
        lines: tuple[Feature, ...] = (),
    ) -> tuple[Fill, Mask]:
        """The fill through sound metal at ``uv`` (n, 2) of ``height_mm`` (n,), and which of it is believed, (n,)."""
        features, true = (creases + lines, _KINKED_MM) if self.lined else (creases, 0.0)
        highest = _BELIEVING if self.plate else self.highest
        patch, believed = fit_patch(uv, height_mm, area_mm2, features, highest, true_mm=true)
        if not self.plate:
            return patch, believed
        return fit_plate(uv[believed], height_mm[believed], area_mm2[believed], self.highest), believed

    def doubt_mm(self, fill: Fill, uv: Floats) -> float:
        """What a ``fill`` of this way doubts itself by at ``uv`` (n, 2) mm; the same for all with lines, which doubt
        themselves wherever a sector has none."""
        return 1.0 if self.lined else fill.doubt_mm(uv)


_BELIEVING = 4  # what a patch of this degree can't follow is other damage and no shape
# The first is taken where nothing tells them apart. Carried on from one side only, high degrees run wild unless the
# metal there is shown to bear them.
INSIDE = (Way(HIGHEST), Way(2, plate=True))
AT_RIM = (Way(2, plate=True), Way(2), Way(3, plate=True), Way(3), Way(4), Way(6))
_LINED, _LINED_AT_RIM = (4, HIGHEST), (2, 3, 4)
_KINKED_MM = 0.3  # metal on a sharp line may be off a smooth profile by so much, and is the line all the same
_UNTRIED_MM = 0.1


def ways(at_rim: bool, creases: bool, lines: bool) -> tuple[Way, ...]:
    """What to try at a place, with ``creases`` drawn (a plate knows none) or with ``lines`` across it, which are sure:
    beside the line nothing would tell against leaving them out."""
    if lines:
        return tuple(Way(highest, lined=True) for highest in (_LINED_AT_RIM if at_rim else _LINED))
    return tuple(way for way in (AT_RIM if at_rim else INSIDE) if not (way.plate and creases))


def untried(at_rim: bool, lines: bool, foretold_mm: float) -> Way:
    """What to take where no way can be tried: nothing then holds a higher degree but its own metal, which it foretells
    within ``foretold_mm``."""
    if at_rim:
        return Way(2, lined=lines)
    return INSIDE[0] if foretold_mm <= _UNTRIED_MM and not lines else Way(4, lined=lines)
