"""One damaged place: the metal around it, the fill carried through from there, and what that fill is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..surface.along_sheet import distance_from
from ..surface.surface import Floats, Ints, Mask, Surface, cross, normalised
from .fairing import faired, flattened
from .find_lines import find_ends, find_lines
from .line import Band, Line
from .patch import Crease, Patch, left_out, sample
from .trials import Trials
from .ways import Fill, Way, ways

_RING_SHARE = 0.7  # of the radius of a disc as large as the mask
_SHARE_AT_RIM = 1.0  # carried on from one side only: it takes more metal to go by
_LEAST_RING_EDGES, _LEAST_RING_POINTS = 4.0, 60
_FAIR_MM = 10.0
_STEEPEST = 0.3  # cosine: metal more than 72 degrees off the place's plane is no height over it
_FACING = 0.85  # of the metal around a place: the rest, round a hem or on a flange, is left out
_BESIDE_MM, _LINE_STEP_MM = 20.0, 4.0  # a line is drawn from sound metal to sound metal
_POOR_MM = 0.5  # twice what counts as true


@dataclass(frozen=True, eq=False)
class Place:
    """One island and the ring of sound metal around it, seen from above: ``rows`` of the panel, the ``sheet`` that they
    make, their places ``uv`` and ``height``, which of them are ``inside`` the mask and in the ``ring``."""

    panel: Surface
    rows: Ints
    sheet: Surface
    axes: Floats
    origin: Floats
    uv: Floats
    height: Floats
    inside: Mask
    damaged: Mask
    ring: Mask
    at_rim: bool
    creases: tuple[Crease, ...]
    lines: tuple[Line, ...]
    ends: tuple[Floats, ...]
    way: Way
    patch: Fill
    believed: Mask

    @classmethod
    def around(
        cls, panel: Surface, island: Mask, mask: Mask, creases: tuple[Floats, ...], with_lines: bool = True
    ) -> Place:
        radius = float(np.sqrt(panel.vertex_areas[island].sum() / np.pi))
        at_rim = bool((panel.on_rim & island).any())
        width = max((_SHARE_AT_RIM if at_rim else _RING_SHARE) * radius, _LEAST_RING_EDGES * panel.mean_edge)
        # As wide again all around, where the same fill is tried out.
        near = distance_from(panel, island, width + 5 * radius)
        rows = np.flatnonzero(np.isfinite(near))
        ring = (near[rows] <= width) & ~mask[rows]
        if ring.sum() < _LEAST_RING_POINTS:
            raise InputError(
                f"damage: only {panel.vertex_areas[rows][ring].sum() / 100:.1f} cm² of sound metal lie within "
                f"{width:.0f} mm of a damaged place; mark less, or scan more of the panel"
            )
        axes, _ = _frame(panel, rows[ring])
        facing = panel.vertex_normals[rows] @ axes[2] > _STEEPEST
        if np.mean(facing[ring]) < _FACING:
            raise InputError(
                "damage: the metal around a damaged place turns by more than 70 degrees; mark it in smaller parts"
            )
        kept = facing | island[rows]
        rows, ring = rows[kept], ring[kept]
        axes, origin = _frame(panel, rows[ring])
        local = (panel.vertices[rows] - origin) @ axes.T
        drawn = [line for line in creases if len(line) > 1 and np.ptp(line, axis=0).any()]
        flat = tuple(Crease(((line - origin) @ axes.T)[:, :2]) for line in drawn)
        uv, height, areas = local[:, :2], local[:, 2], panel.vertex_areas[rows]
        metal = uv[ring], height[ring], areas[ring]
        lines = () if flat else find_lines(*metal, panel.mean_edge)
        ends = [] if flat else find_ends(*metal, panel.mean_edge, near[rows[ring]], uv[island[rows]], lines)
        lines = lines if with_lines else ()
        way = ways(at_rim, bool(flat), bool(lines))[0]
        patch, believed = way.fill(*metal, flat, lines)
        return cls(panel, rows, _sheet(panel, rows), axes, origin, uv, height, island[rows], mask[rows], ring, at_rim,
                   flat, lines, tuple(ends), way, patch, believed)

    def filled(self, way: Way) -> Place:
        """The same place filled in another way."""
        if way == self.way:
            return self
        ring = self.ring
        areas = self.panel.vertex_areas[self.rows[ring]]
        patch, believed = way.fill(self.uv[ring], self.height[ring], areas, self.creases, self.lines)
        return replace(self, patch=patch, believed=believed, way=way)

    def carried(self) -> Floats:
        """The island's vertices where they should be, (k, 3) mm."""
        uv = self.uv
        if _folded(self.sheet, uv, self.inside):
            uv = flattened(self.sheet, uv, self.inside)
        height = self.patch.height(uv[self.inside]) + self._remainder()[self.inside]
        local = np.concatenate([uv[self.inside], height[:, None]], axis=1)
        moved: Floats = local @ self.axes + self.origin
        return moved

    def line_points(self) -> tuple[Floats, ...]:
        """Of each line that is continued the middle of where it is bent, through the place and a little way beyond it,
        (k, 3) mm."""
        size = float(np.abs(self.uv[self.inside]).max()) + _BESIDE_MM
        along = np.linspace(-size, size, int(2 * size / _LINE_STEP_MM) + 2)
        return tuple(self._at(each.line.points(0.5 * (each.low + each.high), along)) for each in self.continued)

    def _at(self, uv: Floats) -> Floats:
        """The fill at places (k, 2) of the plane, (k, 3) mm."""
        local = np.concatenate([uv, self.patch.height(uv)[:, None]], axis=1)
        points: Floats = local @ self.axes + self.origin
        return points

    def _remainder(self) -> Floats:
        known = np.zeros(len(self.rows), dtype=bool)
        known[np.flatnonzero(self.ring)[self.believed]] = True
        near = known | self.inside
        over = np.where(known, self.height - self.patch.height(self.uv), 0.0)
        rest = np.zeros(len(self.rows))
        rest[near] = faired(_sheet(self.sheet, np.flatnonzero(near)), over[near], known[near], _FAIR_MM)
        return rest

    def trust_mm(self, trials: Trials) -> float:
        """What the error stays below on 95 % of the place, mm, or nan; never less than what the metal around is off the
        fill, and the far side off a line that goes on: that may go on inside."""
        bound = trials.bound_mm(self._doubt_mm())
        return float(np.maximum(bound, max(self._misfit_mm(), self._line_doubt_mm())))

    def mean_mm(self, trials: Trials) -> float:
        """Standard uncertainty of what the place is off by on the whole, mm, or nan."""
        return trials.mean_mm(self._doubt_mm())

    def _doubt_mm(self) -> float:
        return self.way.doubt_mm(self.patch, self._inside())

    def _line_doubt_mm(self) -> float:
        """What 95 % of the metal on the lines that go on is off what the rest of the ring foretells of it, mm."""
        if not self.continued:
            return 0.0
        metal = np.flatnonzero(self.ring)[self.believed]
        uv, areas = self.uv[metal], self.panel.vertex_areas[self.rows[metal]]
        off = left_out(uv, self.height[metal], areas, (*self.creases, *self.lines), self.patch.degree)
        on = np.any([each.holds(uv) for each in self.continued], axis=0)
        return float(np.percentile(np.abs(off[on]), 95))

    @property
    def continued(self) -> tuple[Band, ...]:
        """The lines that the fill continues, with where they are bent."""
        if not self.way.lined:
            return ()
        assert isinstance(self.patch, Patch)
        profiles, inside = self.patch.profiles()[len(self.creases):], self.uv[self.inside]
        return tuple(line.band(profile, inside) for line, profile in zip(self.lines, profiles, strict=True))

    def _inside(self) -> Floats:
        uv = self.uv[self.inside]
        return uv[sample(len(uv))]

    def _misfit_mm(self) -> float:
        """What 95 % of the ring, believed or not, lies within of the patch, mm."""
        return float(np.percentile(np.abs(self.height - self.patch.height(self.uv))[self.ring], 95))

    def warnings(self, number: int, trust_mm: float) -> list[str]:
        """What the user should mind about this place, whose trust figure is ``trust_mm`` or nan."""
        said = []
        if (self.panel.on_rim[self.rows] & self.inside).any():
            said.append(f"damaged place {number} reaches the panel's edge: there the shape is carried on from one side "
                        "only")
        for end in self.ends:
            where = ", ".join(f"{v:.0f}" for v in self._at(end[None])[0] + self.panel.origin)
            said.append(f"something runs into damaged place {number} at ({where}) mm and does not come out in line on "
                        "the other side (a swage that ends or turns, or damage that is not marked): what it does under "
                        "the mask is a guess; mark all of the damage, give the line, or build that part by hand")
        if np.isnan(trust_mm):
            said.append(f"damaged place {number} can't be checked: too little sound metal like its own lies near by to "
                        "try the same fill on; mark less, or hold the shape against the panel before it is used")
        within = np.fmax(trust_mm, self._misfit_mm())
        if within > _POOR_MM:
            said.append(f"the metal around damaged place {number} foretells it no better than within {within:.1f} mm: "
                        "where a crease or fold runs through or beside it, give its line, or mark less")
        return said


def _frame(panel: Surface, ring: Ints) -> tuple[Floats, Floats]:
    """Axes (3, 3), the last along the ring's mean normal, and the ring's middle."""
    areas = panel.vertex_areas[ring]
    up = normalised((areas @ panel.vertex_normals[ring])[None])[0]
    points = panel.vertices[ring]
    origin: Floats = areas @ points / areas.sum()
    flat = (points - origin) - np.outer((points - origin) @ up, up)
    along = np.linalg.svd(flat, full_matrices=False)[2][0]
    return np.stack([along, cross(up[None], along[None])[0], up]), origin


def _sheet(panel: Surface, rows: Ints) -> Surface:
    """The part of ``panel`` between the vertices ``rows``, which keep their order."""
    new = np.full(len(panel.vertices), -1)
    new[rows] = np.arange(len(rows))
    triangles = new[panel.triangles]
    return Surface(panel.vertices[rows], triangles[(triangles >= 0).all(axis=1)])


def _folded(sheet: Surface, uv: Floats, inside: Mask) -> bool:
    """Whether any triangle at the island lies upside down, seen from above."""
    touched = sheet.triangles[inside[sheet.triangles].any(axis=1)]
    a, b, c = (uv[touched[:, k]] for k in range(3))
    first, second = b - a, c - a
    return bool((first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] <= 0).any())
