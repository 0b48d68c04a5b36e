"""How far a finished shape that was made here may itself be off, and what that makes of depths and volumes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..errors import InputError
from ..surface.surface import Floats, Ints, Mask, Surface
from ..surface.weights import barycentric
from .depth import Depth


@dataclass(frozen=True, eq=False)
class ShapeTrust:
    """Of each vertex of a finished shape: whether it is ``made`` (n,), invented there and not as it was scanned, and
    ``trust_mm`` (n,): standard uncertainty, along its normal, of what an area there is off by as a whole; 0 where it is
    exact, nan where nothing is known. ``notes``: plain sentences on what is to be minded of it."""

    made: Mask
    trust_mm: Floats
    notes: tuple[str, ...] = ()

    def moved(self, surface: Surface) -> ShapeTrust:
        """The same of the mended ``surface``'s vertices, where this is of those that came; where several became one,
        the worst counts. Raises InputError where their numbers differ."""
        row, count = surface.row_of_input, len(surface.vertices)
        if row is None or len(row) != len(self.trust_mm):
            raise InputError(f"finished shape: its trust came for {len(self.trust_mm)} vertices, and it has "
                             f"{count if row is None else len(row)}; make the shape again")
        kept = row >= 0
        made, trust = np.zeros(count, dtype=bool), np.zeros(count)
        np.logical_or.at(made, row[kept], self.made[kept])
        with np.errstate(invalid="ignore"):  # nan stays nan
            np.maximum.at(trust, row[kept], self.trust_mm[kept])
        return ShapeTrust(made, trust, self.notes)


def everywhere(count: int, trust_mm: float, *notes: str) -> ShapeTrust:
    """The same trust at all of ``count`` vertices, none of them invented.

    >>> everywhere(2, 0.1).trust_mm
    array([0.1, 0.1])
    """
    return ShapeTrust(np.zeros(count, dtype=bool), np.full(count, trust_mm), notes)


def together(*trusts: ShapeTrust | None) -> ShapeTrust | None:
    """What several causes make of one shape's trust, each independent of the others; None where none of them has any.

    >>> together(everywhere(1, 0.3), None, everywhere(1, 0.4)).trust_mm
    array([0.5])
    >>> together(None) is None
    True
    """
    known = [trust for trust in trusts if trust is not None]
    if not known:
        return None
    made = np.logical_or.reduce([trust.made for trust in known])
    off = np.sqrt(np.sum([trust.trust_mm**2 for trust in known], axis=0))
    return ShapeTrust(made, off, tuple(note for trust in known for note in trust.notes))


def joined_trust(trusts: Sequence[ShapeTrust | None], counts: Sequence[int]) -> ShapeTrust | None:
    """The trust of several meshes, of ``counts`` vertices each, one after the other; None where none has any.

    >>> joined_trust([None, everywhere(1, 0.3)], [2, 1]).trust_mm
    array([0. , 0. , 0.3])
    """
    if all(trust is None for trust in trusts):
        return None
    every = [everywhere(count, 0.0) if trust is None else trust for trust, count in zip(trusts, counts, strict=True)]
    return ShapeTrust(np.concatenate([trust.made for trust in every]),
                      np.concatenate([trust.trust_mm for trust in every]),
                      tuple(note for trust in every for note in trust.notes))


@dataclass(frozen=True, eq=False)
class ShapeDoubt:
    """What a shape's own uncertainty makes of depths below it: ``doubt_mm`` (n,), 0 where there is none or no depth;
    ``place`` (n,): which connected part of the shape that comes from, 1 to ``places``, 0 where from none;
    ``made`` (n,): the shape is invented there; ``unknown`` (n,): nobody knows how far it may be off; ``notes`` as the
    shape's trust has them.

    Within one part all is off together; different parts know nothing of one another.
    """

    doubt_mm: Floats
    place: Ints
    places: int
    made: Mask
    unknown: Mask
    notes: tuple[str, ...] = ()

    def levers_mm3(self, panel: Surface, label: Ints, count: int) -> Floats:
        """How far each part's uncertainty moves the volume of each area, (``count``, places) mm3.

        ``label`` (m,): the area, below ``count``, that each triangle of ``panel`` is summed in.
        """
        corners = panel.triangles
        place = self.place[corners].max(axis=1)
        key = label * (self.places + 1) + place
        moved = np.bincount(key, panel.areas * self.doubt_mm[corners].mean(axis=1), count * (self.places + 1))
        return moved.astype(np.float64).reshape(count, -1)[:, 1:]


def doubt_of(trust: ShapeTrust, depth: Depth, shape: Surface) -> ShapeDoubt:
    """What ``trust``, of the vertices of ``shape``, makes of the ``depth`` (n,) below it: at the feet, between the
    corners of the triangles there."""
    unknown = np.isnan(trust.trust_mm)
    places, part = _parts(shape, (trust.trust_mm > 0) | unknown)
    rows = np.flatnonzero(depth.judged)
    corners = shape.triangles[depth.triangle[rows]]
    weights = np.clip(barycentric(depth.feet[rows], depth.triangle[rows], shape), 0.0, 1.0)
    count = len(depth.reason)
    doubt, place = np.zeros(count), np.zeros(count, dtype=np.int64)
    made, nobody = np.zeros(count, dtype=bool), np.zeros(count, dtype=bool)
    doubt[rows] = (weights * np.where(unknown, 0.0, trust.trust_mm)[corners]).sum(axis=1)
    place[rows] = part[corners].max(axis=1)
    made[rows] = trust.made[corners].any(axis=1)
    nobody[rows] = unknown[corners].any(axis=1)
    return ShapeDoubt(doubt, place, places, made, nobody, trust.notes)


def _parts(shape: Surface, doubted: Mask) -> tuple[int, Ints]:
    """How many connected parts of ``shape`` are ``doubted`` (n,), and the number of each vertex's part or 0, (n,)."""
    part = np.zeros(len(doubted), dtype=np.int64)
    rows = np.flatnonzero(doubted)
    if not len(rows):
        return 0, part
    count, number = connected_components(shape.edge_counts[rows][:, rows], directed=False)
    part[rows] = number + 1
    return int(count), part
