"""The ways in which a damaged place may be filled: polynomials of different highest degrees, and a thin plate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..surface.surface import Floats, Mask
from .patch import HIGHEST, Crease, fit_patch
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
    """A polynomial of at most degree ``highest``, or, with a ``plate``, one hung over the polynomial of that degree."""

    highest: int
    plate: bool = False

    def fill(
        self, uv: Floats, height_mm: Floats, area_mm2: Floats, creases: tuple[Crease, ...]
    ) -> tuple[Fill, Mask]:
        """The fill through sound metal at ``uv`` (n, 2) of ``height_mm`` (n,), and which of it is believed, (n,)."""
        patch, believed = fit_patch(uv, height_mm, area_mm2, creases, _BELIEVING if self.plate else self.highest)
        if not self.plate:
            return patch, believed
        return fit_plate(uv[believed], height_mm[believed], area_mm2[believed], self.highest), believed


_BELIEVING = 4  # what a patch of this degree can't follow is other damage and no shape
# The first is taken where nothing tells them apart. Carried on from one side only, high degrees run wild unless the
# metal there is shown to bear them.
INSIDE = (Way(HIGHEST), Way(2, plate=True))
AT_RIM = (Way(2, plate=True), Way(2), Way(3, plate=True), Way(3), Way(4), Way(6))
_UNTRIED_MM = 0.1


def ways(at_rim: bool, creases: tuple[Crease, ...]) -> tuple[Way, ...]:
    """What to try at a place; a plate knows no creases."""
    return tuple(way for way in (AT_RIM if at_rim else INSIDE) if not (way.plate and creases))


def untried(at_rim: bool, foretold_mm: float) -> Way:
    """What to take where no way can be tried: nothing then holds a higher degree but its own metal, which it foretells
    within ``foretold_mm``."""
    if at_rim:
        return Way(2)
    return INSIDE[0] if foretold_mm <= _UNTRIED_MM else Way(4)


def sample(count: int, most: int) -> slice:
    """Every so many of ``count`` rows, so that there are at most ``most``."""
    return slice(None, None, int(np.ceil(count / most)) if count else 1)
