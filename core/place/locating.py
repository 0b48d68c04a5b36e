"""Holes and rims as locating features: they tell where a panel lies along itself, which its surface may not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.rim_lines import RimLines
from ..surface.surface import Floats, cross, dot, normalised
from .locate_by import Locating
from .motion import Motion

_SEEK_MM = 25.0  # a hole's partner lies this near after clicks 5 mm wrong, or a guess
_ALIKE = 1.2  # holes whose lengths differ by more are two different ones
_RIM_SEEK_MM = 15.0
_SIGMAS, _MOSTLY = 3.0, 85.0  # a panel that slid lengthwise is off at its short sides only, 15 % of a rim or more
_SAME_WAY = 0.5  # cosine: rims that run closer than 60 degrees to one another
_AGREES_MM = 100.0  # a rim's error agrees with itself over so much of it: a guess, it may be bent or cut as a whole
_MOST_POINTS = 2000


@dataclass(frozen=True, eq=False)
class Anchors:
    """Points (k, 3) mm that should come to ``partners`` (k, 3) mm along the unit directions ``along`` (k, 3), each
    known to ``sure_mm`` (k,), one standard deviation; to the other directions they are free."""

    points: Floats
    partners: Floats
    along: Floats
    sure_mm: Floats


NO_ANCHORS = Anchors(np.empty((0, 3)), np.empty((0, 3)), np.empty((0, 3)), np.empty(0))


@dataclass(frozen=True)
class Located:
    """What a panel was located by: ``holes`` that found their partner of those ``of_holes`` on it, ``rim_mm`` of its
    ``of_rim_mm`` that lie along the shape's rim, and how far they still are from there, ``rim_off_mm`` (root mean
    square, nan for none)."""

    holes: int
    of_holes: int
    rim_mm: float
    of_rim_mm: float
    rim_off_mm: float


@dataclass(frozen=True, eq=False)
class Locators:
    """The holes and rims of a ``panel`` and of a ``shape``, to be matched wherever the panel lies."""

    panel: RimLines
    shape: RimLines
    what: Locating

    def at(self, motion: Motion) -> Anchors:
        """The pulls on the panel, in its own frame, where ``motion`` has brought it."""
        parts = [NO_ANCHORS]
        if self.what.holes:
            parts.append(self._holes(motion))
        if self.what.rims:
            parts.append(self._rims(motion))
        return Anchors(*(np.concatenate([getattr(p, f) for p in parts]) for f in Anchors.__annotations__))

    def located(self, motion: Motion) -> Located:
        """What locates the panel where ``motion`` has brought it."""
        holes = self._holes(motion) if self.what.holes else NO_ANCHORS
        rims = self._rims(motion) if self.what.rims else NO_ANCHORS
        off = dot(rims.partners - motion.of(rims.points), rims.along)
        along = float(np.sum((self.what.sure_mm / rims.sure_mm) ** 2) * _AGREES_MM)
        is_rim = np.array([loop.kind == "rim" for loop in self.panel.loops], dtype=bool)
        return Located(
            len(holes.points) // 2, int(np.sum(~is_rim)), along,
            float(self.panel.stands_mm[np.isin(self.panel.loop, np.flatnonzero(is_rim))].sum()),
            float(np.sqrt(np.mean(off**2))) if len(off) else float("nan"),
        )

    def _holes(self, motion: Motion) -> Anchors:
        """Two pulls a hole, square to one another in the plane of its partner, towards the partner's middle."""
        own, _, length, own_rough = _middles(self.panel)
        its, facing, its_length, its_rough = _middles(self.shape)
        if not len(own) or not len(its):
            return NO_ANCHORS
        apart = np.linalg.norm(motion.of(own)[:, None] - its[None], axis=2)
        ratio = length[:, None] / its_length[None]
        apart[(apart > _SEEK_MM) | (np.maximum(ratio, 1 / ratio) > _ALIKE)] = np.inf
        partner = apart.argmin(axis=1)
        rows = np.arange(len(own))
        mutual = np.isfinite(apart[rows, partner]) & (apart.argmin(axis=0)[partner] == rows)
        rows, partner = rows[mutual], partner[mutual]
        one = normalised(cross(facing[partner], np.eye(3)[np.abs(facing[partner]).argmin(axis=1)]))
        along = np.concatenate([one, cross(facing[partner], one)])
        twice = np.concatenate([rows, rows])
        sure = np.sqrt(self.what.sure_mm**2 + own_rough[rows] ** 2 + its_rough[partner] ** 2)
        return Anchors(own[twice], its[np.concatenate([partner, partner])], along, np.concatenate([sure, sure]))

    def _rims(self, motion: Motion) -> Anchors:
        """A pull for each point of the panel's rim near the shape's, square to the rim and along the sheet."""
        own = np.flatnonzero([loop.kind == "rim" for loop in self.panel.loops])
        rows = np.flatnonzero(np.isin(self.panel.loop, own))
        step = max(1, -(-len(rows) // _MOST_POINTS))
        rows, stands = rows[::step], self.panel.stands_mm[rows[::step]] * step
        placed = motion.of(self.panel.points[rows])
        near = self.shape.tree.nearest(placed)
        there = np.flatnonzero(near.distance_mm < _RIM_SEEK_MM)
        across = self.shape.across[near.triangle[there]]
        facing = dot(self.panel.across[rows[there]] @ motion.rotation.T, across) > _SAME_WAY
        off = dot(near.point[there] - placed[there], across)
        spread = float(np.percentile(np.abs(off[facing]), _MOSTLY)) if facing.any() else 0.0
        kept = facing & (np.abs(off) <= _SIGMAS * max(self.what.sure_mm, spread)) & (stands[there] > 0)
        sure = self.what.sure_mm * np.sqrt(_AGREES_MM / stands[there[kept]])
        return Anchors(self.panel.points[rows[there[kept]]], near.point[there[kept]], across[kept], sure)


def _middles(lines: RimLines) -> tuple[Floats, Floats, Floats, Floats]:
    """Middle (h, 3), normal (h, 3) and length (h,) of each hole, and how rough its middle is by its ragged rim (h,)."""
    holes = [k for k, loop in enumerate(lines.loops) if loop.kind == "hole"]
    if not holes:
        return np.empty((0, 3)), np.empty((0, 3)), np.empty(0), np.empty(0)
    found = [(_middle(lines, k), _normal(lines, k), lines.loops[k].length_mm, _rough(lines, k)) for k in holes]
    middles, normals, lengths, rough = (np.array(each) for each in zip(*found, strict=True))
    return middles, normalised(normals), lengths, rough


def _middle(lines: RimLines, k: int) -> Floats:
    """A round hole's centre, else the middle of its area: a ragged rim's zigzag would pull the mean of its points."""
    circle = lines.loops[k].circle
    if circle is not None:
        return circle.centre
    points = lines.points[lines.loop == k]
    middle = points.mean(axis=0)
    local = points - middle
    ahead = np.roll(local, -1, axis=0)
    slices = cross(local, ahead) @ normalised(cross(local, ahead).sum(axis=0, keepdims=True))[0]
    centre: Floats = middle + slices @ (local + ahead) / 3 / max(slices.sum(), 1e-12)
    return centre


def _rough(lines: RimLines, k: int) -> float:
    """How far the rim's raggedness may shift its middle, mm: a quarter of an edge where it is not a clean circle."""
    loop = lines.loops[k]
    return 0.0 if loop.circle is not None else 0.25 * loop.length_mm / len(loop.vertices)


def _normal(lines: RimLines, k: int) -> Floats:
    local = lines.points[lines.loop == k] - _middle(lines, k)
    normal: Floats = cross(local, np.roll(local, -1, axis=0)).sum(axis=0)
    return normal
