"""A part's meshes as one surface in mm: as they came, or mended, with marks and trust brought along."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..depth.outer_side import facing_target
from ..depth.shape_trust import ShapeTrust, joined_trust
from ..errors import InputError
from ..place.onto import Landmarks
from ..surface.condition import Condition, mend
from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface
from ..surface.validate import validate
from .part import Array, Part, Piece


def joined(part: Part) -> Surface:
    """The pieces in the common frame in mm, as they came; windings follow a mirror."""
    placed = [_placed(piece, part.mm_per_unit) for piece in part.pieces]
    if len(placed) == 1:
        return validate(*placed[0], part.name)
    starts = np.cumsum([0, *(len(vertices) for vertices, _ in placed)])
    triangles = [rows.astype(np.int64) + start for (_, rows), start in zip(placed, starts[:-1], strict=True)]
    return validate(np.concatenate([vertices for vertices, _ in placed]), np.concatenate(triangles), part.name)


def _placed(piece: Piece, mm_per_unit: float) -> tuple[Array, Array]:
    vertices, triangles, matrix = piece.vertices, piece.triangles, piece.matrix
    if matrix is not None:
        vertices = vertices.astype(np.float64) @ matrix[:3, :3].T + matrix[:3, 3]
        if np.linalg.det(matrix[:3, :3]) < 0:
            triangles = triangles[:, ::-1]
    return vertices if mm_per_unit == 1.0 else vertices * mm_per_unit, triangles


def trust_of(part: Part) -> ShapeTrust | None:
    """The trust of the vertices that came, or None of a part as it was designed or scanned."""
    trusts = [None if piece.made is None or piece.trust_mm is None else
              ShapeTrust(piece.made.astype(bool), piece.trust_mm.astype(np.float64)) for piece in part.pieces]
    found = joined_trust(trusts, [len(piece.vertices) for piece in part.pieces])
    return None if found is None else replace(found, notes=part.notes)


@dataclass(frozen=True, eq=False)
class Mended:
    """A part made ready: mended in mm about its own middle, its ``condition``, and the trust of what ``came``."""

    part: Part
    surface: Surface
    condition: Condition
    came: ShapeTrust | None

    @property
    def trust(self) -> ShapeTrust | None:
        """The trust of the mended vertices."""
        return None if self.came is None else self.came.moved(self.surface)

    def marked(self, marks: Array | None) -> Mask | None:
        """``marks`` (k,) of the vertices that came, for the mended ones (n,); None where nothing is marked."""
        if marks is None:
            return None
        row = self._row
        if len(marks) != len(row):
            raise InputError(f"{self.part.name}: {len(marks)} marks came for {len(row)} vertices; mark it again")
        found = np.zeros(len(self.surface.vertices), dtype=bool)
        found[row[marks.astype(bool) & (row >= 0)]] = True
        return found

    def set_aside(self, marks: Array | None) -> Mask | None:
        """As `marked`, of what takes no part: something must be left that does."""
        aside = self.marked(marks)
        if aside is not None and aside.all():
            raise InputError(f"{self.part.name}: all of it is set aside; leave its sound metal unmarked")
        return aside

    def as_came(self, values: Floats) -> Floats:
        """``values`` (n,) of the mended vertices, for those that came; nan for those that were dropped."""
        return as_came(values, self._row, np.nan)

    def record(self) -> dict[str, Any]:
        """Where it came from, for JSON."""
        source = self.part.source
        return {"file": source.file, "sha256": source.sha256, "unit": source.unit,
                "vertices": self.condition.vertices, "triangles": self.condition.triangles}

    @property
    def _row(self) -> Ints:
        row = self.surface.row_of_input
        assert row is not None  # mend keeps it
        return row


def as_came(values: Floats, row: Ints, missing: float) -> Floats:
    """Values of a mended surface's vertices for the vertices that came; ``missing`` for those that were dropped."""
    return np.where(row >= 0, values[row], missing)


def mended(part: Part) -> Mended:
    """The part mended, counted from the middle of its box."""
    raw = joined(part)
    low, high = raw.box
    surface, condition = mend(raw.about(raw.origin + 0.5 * (low + high)), part.name)
    return Mended(part, surface, condition, trust_of(part))


def facing(panel: Mended, target: Mended, tree: Tree) -> tuple[Surface, tuple[str, ...]]:
    """The panel in the target's frame, turned to face as it does, and what was turned."""
    here = panel.surface.about(target.surface.origin)
    turned, notes = facing_target(here, target.surface, tree)
    return replace(turned, origin=target.surface.origin), notes


def landmarks_of(pairs: Array | None) -> Landmarks | None:
    """Pairs of points (k, 2, 3) mm, or None, as a line-up takes them."""
    return None if pairs is None else Landmarks(pairs[:, 0], pairs[:, 1])
