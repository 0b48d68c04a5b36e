"""What a job gives back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..depth.shape_trust import ShapeTrust
from ..report.made_shape import trust_columns
from ..surface.surface import Floats, Surface
from .part import Answer, Array


@dataclass(frozen=True, eq=False)
class Result:
    """What was found: a ``record`` for JSON, lengths in mm, with its ``warnings``; a new ``surface`` in the frame of a
    part whose unit is ``mm_per_unit``, with the ``trust`` of its vertices and further ``columns`` (n,) at them;
    ``map_mm`` (k,), values for the vertices of one part that came, nan where there is none; and ``mapped``, that part
    as it was worked on, with ``mapped_mm`` at its vertices, where it is not ``surface``."""

    record: dict[str, Any]
    mm_per_unit: float = 1.0
    surface: Surface | None = None
    trust: ShapeTrust | None = None
    columns: Mapping[str, Floats] = field(default_factory=dict)
    map_mm: Floats | None = None
    mapped: Surface | None = None
    mapped_mm: Floats | None = None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is to be minded, in plain sentences."""
        return tuple(self.record["warnings"])

    def arrays(self) -> dict[str, Array]:
        """All that is no figure, for whoever draws it: ``vertices`` in the part's own unit, ``triangles``, ``made``,
        ``trust_mm``, ``map_mm``."""
        found: dict[str, Array] = {}
        if self.surface is not None:
            found["vertices"] = (self.surface.vertices + self.surface.origin) / self.mm_per_unit
            found["triangles"] = self.surface.triangles
            found.update(trust_columns(self.trust))
        if self.map_mm is not None:
            found["map_mm"] = self.map_mm.astype(np.float32)
        return found

    def answer(self) -> Answer:
        """The same, to cross into another process."""
        return Answer(self.record, self.arrays())


def number(value: float) -> float | None:
    """A figure for JSON: null where there is none."""
    return float(value) if np.isfinite(value) else None
