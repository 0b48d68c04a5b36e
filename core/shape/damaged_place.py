"""One damaged place: the metal around it, the fill carried through from there, and what that fill is worth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..errors import InputError
from ..surface.along_sheet import distance_from
from ..surface.surface import Floats, Ints, Mask, Surface, cross, unit
from .fairing import faired, flattened
from .footprint import Footprint, clear
from .patch import Crease
from .trials import Trials
from .ways import INSIDE, Fill, Way, sample, untried, ways

_RING_SHARE = 0.7  # of the radius of a disc as large as the mask
_SHARE_AT_RIM = 1.0  # carried on from one side only: it takes more metal to go by
_LEAST_RING_EDGES, _LEAST_RING_POINTS = 4.0, 60
_FAIR_MM = 10.0
_STEEPEST = 0.3  # cosine: metal more than 72 degrees off the place's plane is no height over it
_FACING = 0.85  # of the metal around a place: the rest, round a hem or on a flange, is left out
_TRIALS, _TRIALS_AT_RIM = 8, 16  # at a rim half of them or more lie beyond it
_TRIED = 1500  # points of a trial that are looked at
_UNLIKE, _UNLIKE_MM = 2.5, 0.03
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
    way: Way
    patch: Fill
    believed: Mask

    @classmethod
    def around(cls, panel: Surface, island: Mask, mask: Mask, creases: tuple[Floats, ...]) -> Place:
        radius = float(np.sqrt(panel.vertex_areas[island].sum() / np.pi))
        at_rim = bool((panel.on_rim & island).any())
        width = max((_SHARE_AT_RIM if at_rim else _RING_SHARE) * radius, _LEAST_RING_EDGES * panel.mean_edge)
        # As wide again all around, where the same fill is tried out.
        near = distance_from(panel, island, width + 5 * radius)
        rows = np.flatnonzero(np.isfinite(near))
        ring = (near[rows] <= width) & ~mask[rows]
        if ring.sum() < _LEAST_RING_POINTS:
            raise InputError(
                f"mask: only {panel.vertex_areas[rows][ring].sum() / 100:.1f} cm2 of sound metal lie within "
                f"{width:.0f} mm of a damaged place; mark less, or scan more of the panel"
            )
        axes, _ = _frame(panel, rows[ring])
        facing = panel.vertex_normals[rows] @ axes[2] > _STEEPEST
        if np.mean(facing[ring]) < _FACING:
            raise InputError(
                "mask: the metal around a damaged place turns by more than 70 degrees; mark it in smaller parts"
            )
        kept = facing | island[rows]
        rows, ring = rows[kept], ring[kept]
        axes, origin = _frame(panel, rows[ring])
        local = (panel.vertices[rows] - origin) @ axes.T
        lines = [line for line in creases if len(line) > 1 and np.ptp(line, axis=0).any()]
        flat = tuple(Crease(((line - origin) @ axes.T)[:, :2]) for line in lines)
        way = ways(at_rim, flat)[0]
        patch, believed = way.fill(local[ring, :2], local[ring, 2], panel.vertex_areas[rows[ring]], flat)
        return cls(panel, rows, _sheet(panel, rows), axes, origin, local[:, :2], local[:, 2], island[rows], mask[rows],
                   ring, at_rim, flat, way, patch, believed)

    def filled(self, way: Way) -> Place:
        """The same place filled in another way."""
        if way == self.way:
            return self
        ring = self.ring
        areas = self.panel.vertex_areas[self.rows[ring]]
        patch, believed = way.fill(self.uv[ring], self.height[ring], areas, self.creases)
        return replace(self, patch=patch, believed=believed, way=way)

    def best_filled(self) -> tuple[Place, Trials]:
        """The same place filled in the way that does best on sound metal near by, and how the ways did there."""
        trials = self.trials
        if trials.enough:
            return self.filled(ways(self.at_rim, self.creases)[trials.best()]), trials
        return self.filled(untried(self.at_rim, self.filled(INSIDE[0]).patch.foretold_mm)), trials

    def carried(self) -> Floats:
        """The island's vertices where they should be, (k, 3) mm."""
        uv = self.uv
        if _folded(self.sheet, uv, self.inside):
            uv = flattened(self.sheet, uv, self.inside)
        height = self.patch.height(uv[self.inside]) + self._remainder()[self.inside]
        local = np.concatenate([uv[self.inside], height[:, None]], axis=1)
        moved: Floats = local @ self.axes + self.origin
        return moved

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
        fill: that may go on inside."""
        return float(np.maximum(trials.bound_mm(self.patch.doubt_mm(self._inside())), self._misfit_mm()))

    def _inside(self) -> Floats:
        uv = self.uv[self.inside]
        return uv[sample(len(uv), _TRIED)]

    def _misfit_mm(self) -> float:
        """What 95 % of the ring, believed or not, lies within of the patch, mm."""
        return float(np.percentile(np.abs(self.height - self.patch.height(self.uv))[self.ring], 95))

    @cached_property
    def trials(self) -> Trials:
        """Each way of filling tried on sound metal all around."""
        every = ways(self.at_rim, self.creases)
        turns = 2 * np.pi * np.arange(_TRIALS_AT_RIM if self.at_rim else _TRIALS)
        found = [t for turn in turns / len(turns) if (t := self._trial(float(turn), every)) is not None]
        own = [self.filled(way).patch.foretold_mm for way in every]
        figures = np.array(found).reshape(-1, len(every), 4)
        off, doubt, mean, foretold = np.moveaxis(figures, 2, 0)
        # Other metal than this place's: a pocket, a crease, more damage.
        like = foretold <= _UNLIKE * np.maximum(own, _UNLIKE_MM)
        return Trials(off, doubt, mean, foretold, np.array(own), like)

    def _trial(self, turn: float, every: tuple[Way, ...]) -> list[list[float]] | None:
        """Fills of the island's own outline moved aside: of each way the 95 % point of its error, what it doubts itself
        by, its mean error, and what it was off where it was not shown the metal, all mm; None where metal lacks."""
        shift = clear(self.uv[self.inside], turn, 3 * self.panel.mean_edge)
        cell = 1.5 * self.panel.mean_edge
        moved = self.uv - shift
        trial = Footprint.of(self.uv[self.inside], cell).holds(moved) & ~self.damaged
        # The place's own ring, moved along: at a rim or beside other damage it is open to the same side.
        ring = Footprint.of(self.uv[self.ring], cell).holds(moved) & ~trial & ~self.damaged
        if trial.sum() < 0.8 * self.inside.sum() or ring.sum() < 0.6 * self.ring.sum():
            return None
        areas = self.panel.vertex_areas[self.rows]
        rows = np.flatnonzero(trial)
        rows = rows[sample(len(rows), _TRIED)]
        figures = []
        for way in every:
            patch, _ = way.fill(self.uv[ring], self.height[ring], areas[ring], self.creases)
            off = self.height[rows] - patch.height(self.uv[rows])
            mean = float(np.average(off, weights=areas[rows]))
            figures.append([float(np.percentile(np.abs(off), 95)), patch.doubt_mm(self.uv[rows]), mean,
                            patch.foretold_mm])
        return figures

    def warnings(self, number: int, trust_mm: float) -> list[str]:
        """What the user should mind about this place, whose trust figure is ``trust_mm`` or nan."""
        said = []
        if (self.panel.on_rim[self.rows] & self.inside).any():
            said.append(f"damaged place {number} reaches the panel's edge: there the shape is carried on from one side "
                        "only")
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
    up = unit((areas @ panel.vertex_normals[ring])[None])[0]
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
