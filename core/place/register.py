"""Bring a scan into the finished shape's frame, by its sound metal alone."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError
from ..progress import Progress, report_progress, silent, within
from ..statistics.noise import Noise
from ..surface.rim_lines import rim_lines
from ..surface.surface import Floats, Mask, Surface
from ..surface.thin import thin
from .fit import InitialPose, Target, fitted
from .locate_by import Locating
from .locating import Located, Locators
from .motion import Motion
from .registration_covariance import RegistrationCovariance, registration_covariance
from .rounds import FIRST_MISFIT_MM, LEAST_ROUNDS, Found, Pull, anchors_at, depth_of, settled, some_of

_ROUGH_POINTS = 4000
_ROUGH_SCALES_MM = (10.0, 3.0, 1.0, 0.3)
_MANY = 150_000  # triangles: more are thinned to so many until the last rounds
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
    pull = Pull(target, start, locators, unlike_mm)
    few, few_aside = _thinned(panel, aside)
    misfit = FIRST_MISFIT_MM
    if few is not panel:
        found = settled(few, few_aside, pull, motion, misfit, LEAST_ROUNDS, within(progress, 0.3, 0.6))
        found = settled(panel, aside, pull, found.motion, found.misfit_mm, 1, within(progress, 0.6, 0.9))
    else:
        found = settled(panel, aside, pull, motion, misfit, LEAST_ROUNDS, within(progress, 0.3, 0.9))
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


def _locators(panel: Surface, target: Target, locating: Locating) -> Locators | None:
    if not (locating.holes or locating.rims):
        return None
    return Locators(rim_lines(panel), target.rims, locating)


def _roughly(
    panel: Surface, target: Target, start: InitialPose, aside: Mask, locators: Locators | None, progress: Progress
) -> Motion:
    """A fit that damage hardly pulls: points further off weigh less, on a scale that shrinks."""
    rows = some_of(np.flatnonzero(~aside), _ROUGH_POINTS)
    motion = start.motion
    for k, scale in enumerate(_ROUGH_SCALES_MM):
        report_progress(progress, 0.3 * k / len(_ROUGH_SCALES_MM), "Fitting roughly")
        motion, _ = fitted(
            motion, panel.vertices[rows], panel.vertex_normals[rows], panel.vertex_areas[rows], target, start,
            anchors_at(locators, motion), scale,
        )
    return motion


def _result(panel: Surface, found: Found, pull: Pull) -> Registered:
    motion, noise, target, locators = found.motion, found.noise, pull.target, pull.locators
    depth = depth_of(panel, target, motion)
    sound = found.sound & depth.judged
    areas = panel.vertex_areas[sound]
    residual = float(np.sqrt(areas @ depth.depth_mm[sound] ** 2 / areas.sum()))
    normals = target.smooth_normals(depth.feet[sound], depth.triangle[sound])
    anchors = anchors_at(locators, motion)
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
