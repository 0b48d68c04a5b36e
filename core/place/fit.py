"""One fit of a panel to a target: point to plane, over the points that it is given."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..depth.depth import Depth, measure_depth
from ..depth.placing import motion_jacobian
from ..surface.nearest import Tree
from ..surface.rim_lines import RimLines, rim_lines
from ..surface.surface import Floats, Ints, Surface, dot
from ..surface.thin import thin
from ..surface.weights import blended_normals
from .agreed import agreed
from .locating import NO_ANCHORS, Anchors
from .motion import Motion, small

_COARSE = 60_000  # triangles
_SETTLED_MM, _SETTLED_SHARE = 1e-5, 1e-3  # the share is of a robust fit's scale: such a fit is only a start
_MOST_STEPS = 40
_ALONG = 0.01  # a slide along the sheet matters so much of what the same move off it does
_SWINGS = 0.5  # a step that goes back by more than this share of the last one swings
_DAMP = 4.0  # times, at each swing: it slows what hardly anything holds, and shifts no place of rest
_LONGEST_MM = 20.0  # one step's at most, so that a freedom that is hardly held can't run off
_NOISE_MM4 = 1.0  # noise squared times the area over which it agrees, of a usual scan: 0.05 mm over 10 mm is 1.6
_DAMAGE_MM2 = 2500.0  # ... and the area over which damage agrees with itself, while it is still among the points


@dataclass(frozen=True, eq=False)
class Target:
    """A finished shape to line up with: its surface, its tree, how far from it a point still counts, and the paint
    that was on it and is not on the panel.

    Until the panel lies where it belongs, sheets that are nearly square to one another may touch however far off.
    """

    surface: Surface
    tree: Tree
    reach_mm: float
    finish_mm: float = 0.0

    def depth(self, points: Floats, normals: Floats) -> Depth:
        """Depth of ``points`` (n, 3) mm below the target without its paint."""
        return measure_depth(points, normals, self.surface, self.tree, self.reach_mm, self.finish_mm,
                             touching_mm=self.reach_mm)

    def quick_depth(self, points: Floats, normals: Floats) -> Depth:
        """The same, but points whose nearest triangle faces away are not judged: for the many steps of a fit."""
        return measure_depth(points, normals, self.surface, self.tree, self.reach_mm, self.finish_mm, ask_again=False,
                             touching_mm=self.reach_mm)

    def smooth_normals(self, feet: Floats, triangle: Ints) -> Floats:
        """Normals blended between vertices at ``feet`` (n, 3) in ``triangle`` (n,): facets would hold what is round."""
        return blended_normals(feet, triangle, self.surface)

    @cached_property
    def coarse(self) -> Target:
        """The same with so few triangles that many tries for a start take no time; itself where it is no larger."""
        if len(self.surface.triangles) <= _COARSE:
            return self
        few = thin(self.surface, _COARSE)
        return Target(few, Tree(few), self.reach_mm, self.finish_mm)

    @cached_property
    def rims(self) -> RimLines:
        """The shape's rims and holes."""
        return rim_lines(self.surface)


@dataclass(frozen=True, eq=False)
class InitialPose:
    """Where a fit begins, and how far the panel may be off there along itself (standard deviation, mm).

    A near-flat panel can slide on its shape with hardly a change of depth: there the start is all that is known.
    """

    motion: Motion
    prior_sigma_mm: float = 5.0  # landmarks clicked by hand; common practice, no source


def fitted(
    begin: Motion, points: Floats, normals: Floats, areas_mm2: Floats, target: Target, start: InitialPose,
    anchors: Anchors = NO_ANCHORS, robust_mm: float | None = None, noise_mm4: float = _NOISE_MM4,
) -> tuple[Motion, bool]:
    """The motion, from ``begin`` on, that brings the ``points`` (n, 3) mm onto the target, and whether it settled.

    Each step moves the points along the shape's normals at their feet (Chen & Medioni 1991; Low 2004). ``areas_mm2``
    (n,): what each point stands for. ``robust_mm``: points that stay further off weigh less and less (Tukey's biweight
    at three times it), for a start among damage; None: all weigh the same. ``noise_mm4``: variance of an area's mean
    times the area: the noisier the depths, the more the start and the anchors say.
    """
    motion = begin
    settled_mm = _SETTLED_MM if robust_mm is None else _SETTLED_SHARE * robust_mm
    noise = noise_mm4 if robust_mm is None else max(noise_mm4, (robust_mm / 3) ** 2 * _DAMAGE_MM2)
    last, damp = np.zeros(6), 0.0
    for _ in range(_MOST_STEPS):
        here, facing = motion.of(points), normals @ motion.rotation.T
        depth = target.quick_depth(here, facing)
        used = depth.judged
        if used.sum() < 6:
            return motion, False
        weight = areas_mm2[used] * (1.0 if robust_mm is None else _biweight(depth.depth_mm[used], robust_mm))
        smooth = target.smooth_normals(depth.feet[used], depth.triangle[used])
        pull = _Pull(here[used], smooth, facing[used], depth.depth_mm[used], weight)
        step = _step(pull, motion, start, anchors, noise, damp)
        if step.move @ last < -_SWINGS * (last @ last):  # facets and bumps pull back and forth: it would swing for ever
            damp = max(_DAMP * damp, noise / start.prior_sigma_mm**2)
        last = step.move
        motion = step.motion @ motion
        if step.moved_mm < settled_mm:
            return motion, True
    return motion, False


def _biweight(residual: Floats, scale_mm: float) -> Floats:
    """Tukey's biweight, cut off at three ``scale_mm``."""
    inside: Floats = np.clip(1.0 - (residual / (3.0 * scale_mm)) ** 2, 0.0, None)
    return inside * inside


@dataclass(frozen=True, eq=False)
class _Pull:
    """Where points (n, 3) lie, the shape's ``normals`` at their feet and their own, ``facing`` (n, 3), how deep they
    lie (n,) and what they weigh (n,)."""

    here: Floats
    normals: Floats
    facing: Floats
    depth_mm: Floats
    weight: Floats


@dataclass(frozen=True, eq=False)
class _Step:
    """A small ``move`` (6,): turn about ``middle``, by the panel's radius ``span`` mm, and shift, mm; and how much of
    a move that is, root mean square along the normals, ``moved_mm``, slides counted little."""

    move: Floats
    middle: Floats
    span: float
    moved_mm: float

    @property
    def motion(self) -> Motion:
        """The same as a motion."""
        turn = small(self.move[:3] / self.span, np.zeros(3))
        return Motion(turn.rotation, self.middle + self.move[3:] - turn.rotation @ self.middle)


def _step(pull: _Pull, motion: Motion, start: InitialPose, anchors: Anchors, noise: float, damp: float) -> _Step:
    """The small motion that takes the depths away, by weighted least squares.

    ``noise``: of the depths, mm4: what is known to s mm weighs as much as noise / s^2 mm2 of sheet. Bumps of the shape
    that the scan has not do not pull (see `agreed`)."""
    here, weight = pull.here, pull.weight[:, None]
    middle = here.mean(axis=0)
    span = float(np.sqrt(np.mean(dot(here - middle, here - middle))))
    size = np.array([1 / span] * 3 + [1.0] * 3)  # turns counted by what they move at the panel's own radius, mm
    rows = motion_jacobian(here - middle, pull.normals) * size
    square = rows.T @ (rows * weight)
    known = agreed(square, rows.T @ (motion_jacobian(here - middle, pull.facing) * size * weight))
    square = known @ square
    aim = known @ rows.T @ (pull.weight * pull.depth_mm)  # a point that lies low must rise along the normal
    if len(anchors.points):
        placed, strength = motion.of(anchors.points), noise / anchors.sure_mm**2
        pulls = motion_jacobian(placed - middle, anchors.along) * size
        square += pulls.T @ (pulls * strength[:, None])
        aim += pulls.T @ (strength * dot(anchors.partners - placed, anchors.along))
    hold = noise / start.prior_sigma_mm**2
    move = np.linalg.solve(square + (hold + damp) * np.eye(6), aim - hold * _gone(motion, start.motion, middle, span))
    move *= _LONGEST_MM / max(_LONGEST_MM, float(np.abs(move).max()))
    moved = max(float(np.sqrt(np.mean((rows @ move) ** 2))), _ALONG * float(np.abs(move).max()))
    return _Step(move, middle, span, moved)


def _gone(motion: Motion, start: Motion, middle: Floats, span: float) -> Floats:
    """How far the panel has gone from its start: turn by the panel's radius, and shift of its middle, (6,) mm."""
    since = motion @ start.inverse()
    shift = middle - since.inverse().of(middle[None])[0]
    return np.concatenate([since.vector() * span, shift])
