"""A start for a line-up where nobody has clicked points: from the spread of both surfaces, trying the likely turns,
and from their rims where the surfaces can't tell the turns apart."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations, product

import numpy as np

from ..progress import Progress, report_progress, silent
from ..surface.rim_lines import rim_lines
from ..surface.surface import Floats, Ints, Surface, dot
from .fit import InitialPose, Target, fitted
from .likeliest import SURE, likeliest, rims_apart
from .motion import Motion

_POINTS = 800
_ALIKE = 1.3  # spreads closer than this can't tell their axes apart
_DOUBT_MM = 20.0
_SCALES = (0.05, 0.01, 0.003)  # of the panel's diagonal
_TELLING = 70.0  # a fit is told by the point that this percentage of the panel lies nearer than
_SAME_DEGREES = 10.0  # turns nearer than this to one another are one


@dataclass(frozen=True, eq=False)
class Guess:
    """A guessed ``start``; ``off_mm``: what most of the panel stays nearer than; ``sureness``: how many times further
    off the next best guess stays, surface or rims; ``sure``: whether that is enough to go on without asking."""

    start: InitialPose
    off_mm: float
    sureness: float

    @property
    def sure(self) -> bool:
        """Whether no other turn fits nearly as well."""
        return self.sureness >= SURE


def guess(panel: Surface, target: Target, progress: Progress = silent) -> Guess:
    """The likeliest start for ``panel``: middle on middle, its axes along the target's, every likely turn tried.

    Any axis may have been up. A part that is alike turned round, or a scan of only a part of the shape, gives a
    guess that is not sure.
    """
    own, own_middle, own_spread = axes_of(panel)
    its, its_middle, its_spread = axes_of(target.surface)
    rows = np.linspace(0, len(panel.vertices) - 1, min(_POINTS, len(panel.vertices))).astype(np.int64)
    turns = _turns(own_spread, its_spread)
    tried: list[tuple[float, float, Motion]] = []
    for k, turn in enumerate(turns):
        report_progress(progress, k / len(turns), "Trying the likely turns")
        rotation = its @ turn @ own.T
        begin = Motion(rotation, its_middle - rotation @ own_middle)
        side = _side(panel, rows, target.coarse, begin)
        motion = settled_from(begin, panel, rows, target.coarse, side)
        off = off_target(panel, rows, target.coarse, motion, side)
        tried.append((off, off if side > 0 else SURE * off, motion))  # scans are seldom inside out
    lines = rim_lines(panel)
    tried = _different(sorted(tried, key=lambda one: one[1]))
    best, sureness = likeliest([counted for _, counted, _ in tried], lambda k: rims_apart(lines, target, tried[k][2]))
    return Guess(InitialPose(tried[best][2], _DOUBT_MM), tried[best][0], sureness)


def _different(tried: list[tuple[float, float, Motion]]) -> list[tuple[float, float, Motion]]:
    """Of several tries that came to the same turn, the first."""
    kept: list[tuple[float, float, Motion]] = []
    for one in tried:
        if all((one[2] @ other.inverse()).degrees > _SAME_DEGREES for _, _, other in kept):
            kept.append(one)
    return kept


def _side(panel: Surface, rows: Ints, target: Target, motion: Motion) -> float:
    """1 where most of the panel then faces as the shape does, -1 where it lies upside down or is wound inside out."""
    triangle = target.tree.nearest(motion.of(panel.vertices[rows])).triangle
    facing = dot(panel.vertex_normals[rows] @ motion.rotation.T, target.surface.normals[triangle])
    return 1.0 if panel.vertex_areas[rows] @ np.sign(facing) >= 0 else -1.0


def settled_from(motion: Motion, panel: Surface, rows: Ints, target: Target, side: float = 1.0) -> Motion:
    """The ``motion`` after a few coarse fits of the panel's ``rows``; ``side`` -1 turns the panel inside out."""
    start = InitialPose(motion, _DOUBT_MM)  # the same for all: else what pulls along the sheet pulls again and again
    for share in _SCALES:
        motion, _ = fitted(
            motion, panel.vertices[rows], side * panel.vertex_normals[rows], panel.vertex_areas[rows], target,
            start, robust_mm=share * panel.diagonal,
        )
    return motion


def axes_of(surface: Surface) -> tuple[Floats, Floats, Floats]:
    """Right-handed axes (3, 3) by falling spread, as columns, the middle (3,) and the spreads (3,) mm, by area."""
    weight = surface.vertex_areas / surface.vertex_areas.sum()
    middle: Floats = weight @ surface.vertices
    local = surface.vertices - middle
    square, axes = np.linalg.eigh(local.T @ (local * weight[:, None]))
    axes = axes[:, ::-1]
    axes[:, 2] *= np.sign(np.linalg.det(axes))
    return axes, middle, np.sqrt(np.maximum(square[::-1], 0.0))


def _turns(own: Floats, its: Floats) -> list[Floats]:
    """Proper turns between the two sets of axes: every flip, and swaps of axes with much the same spread."""
    turns = []
    for order in permutations(range(3)):
        alike = all(max(own[i], its[k]) <= _ALIKE * max(min(own[i], its[k]), 1e-9) for k, i in enumerate(order))
        if order != (0, 1, 2) and not alike:
            continue
        for signs in product((1.0, -1.0), repeat=3):
            turn = np.zeros((3, 3))
            turn[range(3), order] = signs
            if np.linalg.det(turn) > 0:
                turns.append(turn)
    return turns


def off_target(panel: Surface, rows: Ints, target: Target, motion: Motion, side: float = 1.0) -> float:
    """How near the shape most of the points lie, mm; what is not judged counts as out of reach."""
    depth = target.quick_depth(motion.of(panel.vertices[rows]), side * panel.vertex_normals[rows] @ motion.rotation.T)
    return float(np.percentile(np.where(depth.judged, np.abs(depth.depth_mm), target.reach_mm), _TELLING))
