"""Lines that a panel was given on purpose: creases and swages, which go on alike from rim to rim or nearly so."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.nearest import Tree
from ..surface.surface import Floats, Ints, Mask, Surface, cross, dot, normalised

_STEP = 0.8  # of the bend's scale
_LEAST_MM, _PANEL_SHARE = 150.0, 1 / 3
_MOST_TURN = np.pi / 6  # each way, after which no more is counted: a dent's rim goes round
_ALIKE = 2.0  # more or less bent than that by this factor is no longer the same line
_OFF = 0.1  # bent by this share more or less than its line is, it is damage on the line


@dataclass(frozen=True, eq=False)
class Lines:
    """The lines along which a sheet is bent most alike: ``bent`` (n,) 1/mm across them, ``along`` (n, 3) their way."""

    sheet: Surface
    tree: Tree
    normals: Floats
    bent: Floats
    along: Floats
    ends: Mask
    step_mm: float

    @classmethod
    def of(cls, sheet: Surface, tree: Tree, tensor: Floats, normals: Floats, ends: Mask, scale_mm: float) -> Lines:
        """The lines of a bend ``tensor`` (n, 3, 3) along a sheet; ``ends`` (n,): where the rim is reached."""
        values, axes = np.linalg.eigh(tensor)
        row, most = np.arange(len(values)), np.abs(values).argmax(axis=1)
        along = normalised(cross(normals, axes[row, :, most]))
        return cls(sheet, tree, normals, values[row, most], along, ends, _STEP * scale_mm)

    def designed(self, asked: Mask, slack: float) -> Mask:
        """Which of the vertices ``asked`` (n,) lie on a line that was meant, and are bent as that line is, (n,).

        Meant is what goes on alike, turning by 60 degrees at most, for a third of the panel's size (150 mm at least),
        or for 150 mm and up to a rim. ``slack``: difference of bend that noise explains, 1/mm.
        """
        rows, size = np.flatnonzero(asked), _PANEL_SHARE * float(np.sqrt(self.sheet.area))
        one, other = (self._walk(rows, way, max(size, _LEAST_MM)) for way in (1.0, -1.0))
        length = one.length_mm + other.length_mm
        mean = (one.total + other.total + self.step_mm * self.bent[rows]) / (length + self.step_mm)
        long = (length >= size) | one.at_rim | other.at_rim
        same = np.abs(self.bent[rows] - mean) < slack + _OFF * np.abs(mean)
        meant = np.zeros_like(asked)
        meant[rows] = (length >= _LEAST_MM) & long & same
        return meant

    def _walk(self, rows: Ints, way: float, most_mm: float) -> _Walk:
        """Walk along the lines from vertices ``rows``, one way, as long as they go on alike."""
        walk = _Walk.begun(len(rows))
        place, heading = self.sheet.vertices[rows], way * self.along[rows]
        live = np.arange(len(rows))
        for _ in range(int(np.ceil(most_mm / self.step_mm))):
            if not len(live):
                break
            near = self.tree.nearest(place[live] + self.step_mm * heading[live])
            vertex = self._vertex(near.triangle, near.point)
            off = (near.distance_mm > 0.5 * self.step_mm) | self.ends[vertex]
            walk.at_rim[live[off]] = True
            ratio = self.bent[vertex] / self.bent[rows[live]]
            goes_on = ~off & (ratio > 1 / _ALIKE) & (ratio < _ALIKE)
            live, vertex, point = live[goes_on], vertex[goes_on], near.point[goes_on]
            ahead = self.along[vertex] * np.where(dot(self.along[vertex], heading[live]) < 0, -1.0, 1.0)[:, None]
            turn = np.arctan2(dot(cross(heading[live], ahead), self.normals[vertex]), dot(heading[live], ahead))
            # Half the change of heading at once: else each step would end outside a curved line.
            place[live] = point + 0.5 * self.step_mm * (ahead - heading[live])
            heading[live] = ahead
            walk.turned[live] += turn
            walk.length_mm[live] += self.step_mm
            walk.total[live] += self.step_mm * self.bent[vertex]
            live = live[np.abs(walk.turned[live]) < _MOST_TURN]
        return walk

    def _vertex(self, triangle: Ints, point: Floats) -> Ints:
        """The corner of each triangle that is nearest to a point in it."""
        corner = self.sheet.triangles[triangle]
        gap = self.sheet.vertices[corner] - point[:, None]
        nearest: Ints = corner[np.arange(len(corner)), np.einsum("kij,kij->ki", gap, gap).argmin(axis=1)]
        return nearest


@dataclass(frozen=True, eq=False)
class _Walk:
    """How long each walk was, mm, how far it turned, radians, its bend summed over its length, and whether it ended at
    a rim; each (k,)."""

    length_mm: Floats
    turned: Floats
    total: Floats
    at_rim: Mask

    @classmethod
    def begun(cls, count: int) -> _Walk:
        """So many walks before their first step."""
        return cls(np.zeros(count), np.zeros(count), np.zeros(count), np.zeros(count, dtype=bool))
