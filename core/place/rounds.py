"""Rounds of masking the damage and fitting what is left, until nothing moves: the heart of a registration."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.depth import Depth
from ..errors import InputError
from ..progress import Progress, report_progress
from ..statistics.noise import Noise
from ..surface.surface import Ints, Mask, Surface
from .fit import InitialPose, Target, fitted
from .locating import NO_ANCHORS, Anchors, Locators
from .motion import Motion
from .sound import sound_metal

FINE_POINTS = 60_000
FIRST_MISFIT_MM, _LEAST_MISFIT_MM = 0.2, 0.03
LEAST_ROUNDS, _MOST_ROUNDS, _FREE_ROUNDS = 2, 15, 6
_STANDS_STILL_MM, _STANDS_STILL_SHARE = 0.001, 0.002
_LEAST_SHARE = 0.1
_LEAST_NOISE_MM4 = 0.1  # meshes without noise still differ by their facets


@dataclass(frozen=True, eq=False)
class Pull:
    """What a panel is drawn by: the ``target``, the ``start``, holes and rims, and how far sound metal may differ."""

    target: Target
    start: InitialPose
    locators: Locators | None
    unlike_mm: float


@dataclass(frozen=True, eq=False)
class Found:
    """Where rounds of masking and fitting came to: ``misfit_mm``: what the last one still moved; ``settled``: whether
    that is next to nothing."""

    motion: Motion
    sound: Mask
    noise: Noise
    misfit_mm: float
    settled: bool


def settled(
    panel: Surface, aside: Mask, pull: Pull, motion: Motion, misfit: float, least_rounds: int, progress: Progress
) -> Found:
    """Mask the damage, fit, mask again, until nothing moves; ``misfit``: what ``motion`` may be wrong by, mm."""
    sound, noisy_mm4 = ~aside, _LEAST_NOISE_MM4
    for turn in range(_MOST_ROUNDS):
        report_progress(progress, turn / _MOST_ROUNDS, f"Fitting to sound metal, round {turn + 1}")
        depth = depth_of(panel, pull.target, motion)
        before, (sound, noise) = sound, sound_metal(panel, depth, aside, misfit, pull.unlike_mm)
        least_mm4 = _LEAST_NOISE_MM4
        if turn >= _FREE_ROUNDS:  # spots at the limit, and noise, that come and go would keep it going for ever
            sound, least_mm4 = sound & before, noisy_mm4
        noisy_mm4 = max(least_mm4, noise.of_area_mm4)
        _check_enough(panel, sound)
        rows = some_of(np.flatnonzero(sound), FINE_POINTS)
        areas = panel.vertex_areas[rows] * (sound.sum() / len(rows))
        moved, _ = fitted(
            motion, panel.vertices[rows], panel.vertex_normals[rows], areas, pull.target, pull.start,
            anchors_at(pull.locators, motion), noise_mm4=noisy_mm4,
        )
        step = _furthest(panel, motion, moved)
        changed = float(panel.vertex_areas[before != sound].sum()) / panel.area
        motion, misfit = moved, max(_LEAST_MISFIT_MM, min(misfit / 2, step))
        if turn >= least_rounds and (step < _STANDS_STILL_MM or (changed < _STANDS_STILL_SHARE and step < 0.005)):
            return Found(motion, sound, noise, misfit, True)
    return Found(motion, sound, noise, misfit, False)


def anchors_at(locators: Locators | None, motion: Motion) -> Anchors:
    return NO_ANCHORS if locators is None else locators.at(motion)


def some_of(rows: Ints, most: int) -> Ints:
    """At most ``most`` of the rows, evenly: neighbours in memory are neighbours in space."""
    if len(rows) <= most:
        return rows
    return rows[np.linspace(0, len(rows) - 1, most).astype(np.int64)]


def depth_of(panel: Surface, target: Target, motion: Motion) -> Depth:
    return target.depth(motion.of(panel.vertices), panel.vertex_normals @ motion.rotation.T)


def _furthest(panel: Surface, one: Motion, other: Motion) -> float:
    """How far the two motions part on the panel at most, mm."""
    low, high = panel.box
    corners = np.array([[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
    return float(np.linalg.norm(one.of(corners) - other.of(corners), axis=1).max())


def _check_enough(panel: Surface, sound: Mask) -> None:
    share = float(panel.vertex_areas[sound].sum()) / panel.area
    if share < _LEAST_SHARE:
        raise InputError(
            f"panel: only {share:.0%} of it lies on the finished shape as sound metal; "
            "click three matching points to start from, check the units, or choose the right shape"
        )


