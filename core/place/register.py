"""Bring a scan into the finished shape's frame, by its sound metal alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..depth.depth import Depth
from ..errors import InputError
from ..progress import Progress, report_progress, silent, within
from ..statistics.noise import Noise
from ..surface.rim_lines import rim_lines
from ..surface.surface import Floats, Ints, Mask, Surface
from ..surface.thin import thin
from .fit import InitialPose, Target, fitted
from .locate_by import Locating
from .locating import NO_ANCHORS, Anchors, Located, Locators
from .motion import Motion
from .registration_covariance import RegistrationCovariance, registration_covariance
from .sound import sound_metal

_ROUGH_POINTS, _FINE_POINTS = 4000, 60_000
_ROUGH_SCALES_MM = (10.0, 3.0, 1.0, 0.3)
_LEAST_ROUNDS, _MOST_ROUNDS, _FREE_ROUNDS = 2, 15, 6
_STANDS_STILL_MM, _STANDS_STILL_SHARE = 0.001, 0.002
_LEAST_SHARE = 0.1
_FIRST_MISFIT_MM, _LEAST_MISFIT_MM = 0.2, 0.03
_MANY = 150_000  # triangles: more are thinned to so many until the last rounds
_LEAST_NOISE_MM4 = 0.1  # meshes without noise still differ by their facets
SURFACE_ALONE = Locating()
_RIM_SIGMAS = 3.0
_NO_RIMS = ("no edge locates the panel: the edges of scan and finished shape do not run together; was the scan cut "
            "short there?")
_RIM_SHARE = 0.9  # of the scan's rim that should meet the shape's before nothing is said
_POOR_MM = 1.0  # a phone scans better over a palm; from memory


@dataclass(frozen=True, eq=False)
class Registered:
    """A line-up: the ``motion`` of the panel, in the frame of its own and the target's shared origin.

    ``residual_mm``: root mean square depth left on sound metal; ``share``: area of it over the panel's; ``sound`` (n,);
    ``noise`` there; ``covariance``: how well it is held; ``held_mm`` (n,): what that leaves each vertex's depth
    uncertain by (standard uncertainty, nan where not judged); ``located``: holes and rims that it was located by, if it
    was; ``warnings``: plain sentences.
    """

    motion: Motion
    residual_mm: float
    share: float
    sound: Mask
    noise: Noise
    covariance: RegistrationCovariance
    held_mm: Floats
    located: Located | None
    warnings: tuple[str, ...]


def register(
    panel: Surface, target: Target, start: InitialPose, aside: Mask | None = None, locating: Locating = SURFACE_ALONE,
    progress: Progress = silent, unlike_mm: float = 0.0,
) -> Registered:
    """Where ``panel`` belongs on ``target``, from a ``start`` that is some millimetres off; scale stays 1.

    Fit, mask the damage on the denoised residual, widen the mask, fit again, until nothing moves: to trim or
    weigh single points would leave the smooth flanks of a dent in, and they pull. ``aside`` (n,): parts that take
    no part (handle, glass, moulding). ``locating``: what holds it along itself, beside its surface.
    ``unlike_mm``: how far sound metal may differ from the shape by itself, as a body's two sides do. Rims that nowhere
    meet are left out again, and that is said. Raises InputError where too little sound metal is left.
    """
    if locating.rims:
        fit = _with_rims(panel, target, start, aside, locating, progress, unlike_mm)
        if fit is not None:
            return fit
        fit = _lined_up(panel, target, start, aside, replace(locating, rims=False), progress, unlike_mm)
        return replace(fit, warnings=(*fit.warnings, _NO_RIMS))
    return _lined_up(panel, target, start, aside, locating, progress, unlike_mm)


def _with_rims(
    panel: Surface, target: Target, start: InitialPose, aside: Mask | None, locating: Locating, progress: Progress,
    unlike_mm: float,
) -> Registered | None:
    """The line-up held by rims, or None where they lie further apart than they are known."""
    try:
        fit = _lined_up(panel, target, start, aside, locating, progress, unlike_mm)
    except InputError:
        return None
    off = fit.located.rim_off_mm if fit.located is not None else float("nan")
    return fit if off <= _RIM_SIGMAS * locating.sure_mm else None


def _lined_up(
    panel: Surface, target: Target, start: InitialPose, aside: Mask | None, locating: Locating, progress: Progress,
    unlike_mm: float,
) -> Registered:
    aside = np.zeros(len(panel.vertices), dtype=bool) if aside is None else aside
    locators = _locators(panel, target, locating)
    motion = _roughly(panel, target, start, aside, locators, progress)
    pull = _Pull(target, start, locators, unlike_mm)
    few, few_aside = _thinned(panel, aside)
    misfit = _FIRST_MISFIT_MM
    if few is not panel:
        found = _settled(few, few_aside, pull, motion, misfit, _LEAST_ROUNDS, within(progress, 0.3, 0.6))
        found = _settled(panel, aside, pull, found.motion, found.misfit_mm, 1, within(progress, 0.6, 0.9))
    else:
        found = _settled(panel, aside, pull, motion, misfit, _LEAST_ROUNDS, within(progress, 0.3, 0.9))
    report_progress(progress, 0.95, "Working out how closely the line-up is known")
    return _result(panel, found, pull)


def _thinned(panel: Surface, aside: Mask) -> tuple[Surface, Mask]:
    """A panel that is quick to go round on until the last rounds, with what of it is set aside."""
    if len(panel.triangles) <= _MANY:
        return panel, aside
    few = thin(Surface(panel.vertices, panel.triangles, panel.origin), _MANY)
    row, marks = few.row_of_input, np.zeros(len(few.vertices), dtype=bool)
    assert row is not None  # thin keeps it
    marks[row[aside & (row >= 0)]] = True
    return few, marks


@dataclass(frozen=True, eq=False)
class _Pull:
    """What a panel is drawn by: the ``target``, the ``start``, holes and rims, and how far sound metal may differ."""

    target: Target
    start: InitialPose
    locators: Locators | None
    unlike_mm: float


@dataclass(frozen=True, eq=False)
class _Found:
    """Where rounds of masking and fitting came to: ``misfit_mm``: what the last one still moved; ``settled``: whether
    that is next to nothing."""

    motion: Motion
    sound: Mask
    noise: Noise
    misfit_mm: float
    settled: bool


def _settled(
    panel: Surface, aside: Mask, pull: _Pull, motion: Motion, misfit: float, least_rounds: int, progress: Progress
) -> _Found:
    """Mask the damage, fit, mask again, until nothing moves; ``misfit``: what ``motion`` may be wrong by, mm."""
    sound, noisy_mm4 = ~aside, _LEAST_NOISE_MM4
    for turn in range(_MOST_ROUNDS):
        report_progress(progress, turn / _MOST_ROUNDS, f"Fitting to sound metal, round {turn + 1}")
        depth = _depth(panel, pull.target, motion)
        before, (sound, noise) = sound, sound_metal(panel, depth, aside, misfit, pull.unlike_mm)
        least_mm4 = _LEAST_NOISE_MM4
        if turn >= _FREE_ROUNDS:  # spots at the limit, and noise, that come and go would keep it going for ever
            sound, least_mm4 = sound & before, noisy_mm4
        noisy_mm4 = max(least_mm4, noise.of_area_mm4)
        _check_enough(panel, sound)
        rows = _some(np.flatnonzero(sound), _FINE_POINTS)
        areas = panel.vertex_areas[rows] * (sound.sum() / len(rows))
        moved, _ = fitted(
            motion, panel.vertices[rows], panel.vertex_normals[rows], areas, pull.target, pull.start,
            _anchors(pull.locators, motion), noise_mm4=noisy_mm4,
        )
        step = _furthest(panel, motion, moved)
        changed = float(panel.vertex_areas[before != sound].sum()) / panel.area
        motion, misfit = moved, max(_LEAST_MISFIT_MM, min(misfit / 2, step))
        if turn >= least_rounds and (step < _STANDS_STILL_MM or (changed < _STANDS_STILL_SHARE and step < 0.005)):
            return _Found(motion, sound, noise, misfit, True)
    return _Found(motion, sound, noise, misfit, False)


def _locators(panel: Surface, target: Target, locating: Locating) -> Locators | None:
    if not (locating.holes or locating.rims):
        return None
    return Locators(rim_lines(panel), target.rims, locating)


def _anchors(locators: Locators | None, motion: Motion) -> Anchors:
    return NO_ANCHORS if locators is None else locators.at(motion)


def _roughly(
    panel: Surface, target: Target, start: InitialPose, aside: Mask, locators: Locators | None, progress: Progress
) -> Motion:
    """A fit that damage hardly pulls: points further off weigh less, on a scale that shrinks."""
    rows = _some(np.flatnonzero(~aside), _ROUGH_POINTS)
    motion = start.motion
    for k, scale in enumerate(_ROUGH_SCALES_MM):
        report_progress(progress, 0.3 * k / len(_ROUGH_SCALES_MM), "Fitting roughly")
        motion, _ = fitted(
            motion, panel.vertices[rows], panel.vertex_normals[rows], panel.vertex_areas[rows], target, start,
            _anchors(locators, motion), scale,
        )
    return motion


def _some(rows: Ints, most: int) -> Ints:
    """At most ``most`` of the rows, evenly: neighbours in memory are neighbours in space."""
    if len(rows) <= most:
        return rows
    return rows[np.linspace(0, len(rows) - 1, most).astype(np.int64)]


def _depth(panel: Surface, target: Target, motion: Motion) -> Depth:
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


def _result(panel: Surface, found: _Found, pull: _Pull) -> Registered:
    motion, noise, target, locators = found.motion, found.noise, pull.target, pull.locators
    depth = _depth(panel, target, motion)
    sound = found.sound & depth.judged
    areas = panel.vertex_areas[sound]
    residual = float(np.sqrt(areas @ depth.depth_mm[sound] ** 2 / areas.sum()))
    normals = target.smooth_normals(depth.feet[sound], depth.triangle[sound])
    anchors = _anchors(locators, motion)
    facing = panel.vertex_normals[sound] @ motion.rotation.T
    here = motion.of(panel.vertices[sound])
    value = registration_covariance(here, normals, areas, noise, pull.start.prior_sigma_mm, anchors, facing)
    located = None if locators is None else locators.located(motion)
    moved = "the line-up still moved when it was stopped: set the damaged parts aside by hand"
    warnings = [] if found.settled else [moved]
    if residual > _POOR_MM:
        warnings.append(f"even sound metal lies {residual:.1f} mm (root mean square) off the finished shape: "
                        "look whether it is the right shape, and the units are right")
    if value.advice:
        warnings.append(value.advice)
    if locators is not None and located is not None:
        warnings += _unlocated(located, locators.what)
    share, held = float(areas.sum()) / panel.area, value.placing.of_depths(depth, target.surface)
    return Registered(motion, residual, share, sound, noise, value, held, located, tuple(warnings))


def _unlocated(located: Located, what: Locating) -> list[str]:
    """What was to locate the panel and does not."""
    warnings = []
    if what.holes and not located.holes:
        warnings.append(f"no hole locates the panel: none of its {located.of_holes} has one of its size on the "
                        "finished shape within 25 mm")
    if what.rims and located.rim_mm < _RIM_SHARE * located.of_rim_mm:
        warnings.append(f"only {located.rim_mm / located.of_rim_mm:.0%} of the scan's edge runs along the finished "
                        "shape's: if the scan was cut short there, leave the edges out")
    return warnings
