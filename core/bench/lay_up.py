"""How a material goes on: in passes, proud of the finished shape; one reckoning for list, map, legend and reading."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .materials import Material
from .passes import laid_thickness_mm, passes


@dataclass(frozen=True)
class LayUp:
    """A material of this ``kind`` laid ``pass_mm`` at a time, ``overbuild_mm`` proud of the finished shape.

    ``overbuild_mm``: the job's greatest, so that one map and one legend hold for all its areas. ``contraction``: the
    share of its thickness that a filler loses.
    """

    pass_mm: float
    overbuild_mm: float
    contraction: float
    kind: str

    @classmethod
    def of(cls, material: Material, overbuild_mm: float) -> LayUp:
        """As ``material`` is laid."""
        return cls(material.pass_mm, overbuild_mm, material.contraction, material.kind)

    def thickness_mm(self, depth_mm: float) -> float:
        """Thickness to lay, mm, where the panel is ``depth_mm`` low, overbuild and all."""
        return laid_thickness_mm(depth_mm, self.overbuild_mm, self)

    def count(self, depth_mm: float) -> int:
        """Passes over a place ``depth_mm`` low.

        >>> LayUp(2.0, 1.1, 0.0, "solder").count(0.9), LayUp(2.0, 1.1, 0.0, "solder").count(1.0)
        (1, 2)
        """
        return passes(self.thickness_mm(depth_mm), self)

    def ends_mm(self, deepest_mm: float) -> NDArray[np.float64]:
        """The depths, mm, rising up to ``deepest_mm``, from which on one pass more is laid, overbuild and all.

        >>> LayUp(2.0, 1.1, 0.0, "solder").ends_mm(4.5).round(6).tolist()
        [0.9, 2.9]
        >>> LayUp(3.0, 1.0, 0.01, "filler").ends_mm(1.0).tolist()
        []
        """
        most = max(0, int(self.thickness_mm(deepest_mm) / self.pass_mm))
        ends = (self.pass_mm * np.arange(1, most + 1) - self.overbuild_mm) * (1.0 - self.contraction)
        return ends[(ends > 0) & (ends <= deepest_mm)]
