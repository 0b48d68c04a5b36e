"""From a panel and a target in one frame to depth, volumes, noise and areas: the numbered steps of depth."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..progress import Progress, report_progress, silent, within
from ..settings import Settings
from ..statistics.noise import Noise, stated
from ..surface.nearest import Tree
from ..surface.surface import Floats, Mask, Surface
from .accounts import Accounts, accounts
from .areas import Areas, find_areas, seed_threshold_mm
from .denoise import Steady, steadied
from .depth import Depth, measure_depth
from .grow import Field
from .placing import Placing
from .scan_noise import SeenNoise, seen_noise
from .shape_trust import ShapeDoubt, ShapeTrust, doubt_of
from .sheets import Sheets, between
from .volume import Volumes, volumes

_BANDWIDTH_MM = 3.0
_USUAL = Settings()
_ASSUMED = "assumed: too little sound metal"


@dataclass(frozen=True)
class Rules:
    """What decides where an area is, usually by the settings (`rules_of`).

    ``true_mm`` within which metal is right; ``reach_mm`` beyond which no depth is believed; ``finish_mm`` of primer
    and paint that the target carries; ``line_up_mm`` standard uncertainty of the line-up; ``scan_error_mm`` over
    ``scan_error_length_mm``: taken where ``scan_error_stated``, or where too little sound metal is left to
    measure on; ``least_area_mm2`` of a seed. The scanner's figures are from memory, the rest common practice.
    """

    true_mm: float = _USUAL.true_mm
    reach_mm: float = _USUAL.reach_mm
    finish_mm: float = _USUAL.finish_mm
    line_up_mm: float = _USUAL.line_up_uncertainty_mm
    scan_error_mm: float = 0.05
    scan_error_length_mm: float = 10.0
    scan_error_stated: bool = False
    least_area_mm2: float = _USUAL.least_area_mm2


def rules_of(settings: Settings) -> Rules:
    """The rules that the user's ``settings`` make."""
    error, length = settings.scan_error_mm, settings.scan_error_length_mm
    return Rules(
        settings.true_mm, settings.reach_mm, settings.finish_mm, settings.line_up_uncertainty_mm,
        Rules.scan_error_mm if error is None else error, Rules.scan_error_length_mm if length is None else length,
        error is not None, settings.least_area_mm2,
    )


@dataclass(frozen=True)
class Survey:
    """What lies between a panel and its target.

    ``depth`` of each panel vertex; ``planned`` (n,): inside the work area; ``inside``: the volumes between the
    ``sheets``; ``steady`` depth, denoised; ``noise`` of the scan; ``offset_mm``: how far sound metal lies below the
    target on the whole; ``areas`` to work on; ``accounts``: where the enclosed volumes went; ``placing``: how well the
    line-up is known, where it was worked out; ``doubt``: of the target itself, where that was made here.
    """

    depth: Depth
    planned: Mask
    sheets: Sheets
    inside: Volumes
    steady: Steady
    noise: Noise
    offset_mm: float
    areas: Areas
    accounts: Accounts
    placing: Placing | None
    doubt: ShapeDoubt | None = None


def survey(
    panel: Surface, target: Surface, tree: Tree, rules: Rules, work_area: Mask | None = None,
    progress: Progress = silent, placing: Placing | None = None, trust: ShapeTrust | None = None,
) -> Survey:
    """Depth, volumes, noise and areas of ``panel`` against ``target``, whose own ``tree`` comes with it.

    ``work_area`` (n,): the vertices to plan for; the rest counts as sound metal to measure the noise on.
    ``placing``: of a line-up, takes the place of the one figure ``rules.line_up_mm``. ``trust``: of the target's
    vertices, where it was made here.
    """
    lie = lie_of(panel, target, tree, rules, work_area, within(progress, 0.0, 0.6))
    return survey_of(lie, panel, target, rules, within(progress, 0.6, 1.0), placing, trust)


@dataclass(frozen=True)
class Lie:
    """How a panel lies to its target: ``depth`` of each vertex, what is ``planned`` (n,), and the two as ``sheets``."""

    depth: Depth
    planned: Mask
    sheets: Sheets


def lie_of(
    panel: Surface, target: Surface, tree: Tree, rules: Rules, work_area: Mask | None = None,
    progress: Progress = silent,
) -> Lie:
    """The first half of `survey`, all of it that asks the ``tree``, which can then go."""
    planned = np.ones(len(panel.vertices), dtype=bool) if work_area is None else work_area
    report_progress(progress, 0.0, "Finding the foot of each point")
    judge = partial(measure_depth, target=target, tree=tree, reach_mm=rules.reach_mm, finish_mm=rules.finish_mm)
    depth = judge(panel.vertices, panel.vertex_normals)
    report_progress(progress, 0.7, "Measuring the volume between")
    return Lie(depth, planned, between(panel, _only(depth, planned), judge))


def survey_of(
    lie: Lie, panel: Surface, target: Surface, rules: Rules, progress: Progress = silent,
    placing: Placing | None = None, trust: ShapeTrust | None = None,
) -> Survey:
    """The second half of `survey`: from how the panel lies to what is to be made of it."""
    depth, planned, sheets = lie.depth, lie.planned, lie.sheets
    inside = volumes(sheets)
    report_progress(progress, 0.1, "Telling damage from noise")
    steady = steadied(panel, depth.depth_mm, depth.judged, _BANDWIDTH_MM)
    if placing is not None:
        held, weights = placing.of_depths(depth, target)[depth.judged], panel.vertex_areas[depth.judged]
        if len(held):
            rules = replace(rules, line_up_mm=float(np.sqrt(np.average(held**2, weights=weights))))
    doubt = None if trust is None else doubt_of(trust, depth, target)
    seen = seen_noise(panel, np.where(depth.judged, depth.depth_mm, 0.0), depth.judged, doubt)
    if seen.itself_mm:  # a scan lies on itself
        rules, placing = replace(rules, line_up_mm=seen.itself_mm), None
    noise, offset, areas = _areas(panel, depth, planned, sheets, inside, steady, rules, placing, doubt, seen)
    limit, smooth = _limit_mm(panel, steady, rules, noise, offset), steady.smoothed_mm
    beyond = np.where(depth.judged & planned & (np.abs(smooth) > limit), np.sign(smooth), 0.0)
    told = accounts(panel, sheets, inside, areas, beyond, rules.least_area_mm2)
    report_progress(progress, 1.0, "Found the areas")
    return Survey(depth, planned, sheets, inside, steady, noise, offset, areas, told, placing, doubt)


def _limit_mm(panel: Surface, steady: Steady, rules: Rules, noise: Noise, offset: float) -> float:
    return seed_threshold_mm(rules.true_mm, noise, steady.bandwidth_mm, panel.area, 4 * panel.area**0.5, offset)


def _areas(
    panel: Surface, depth: Depth, planned: Mask, sheets: Sheets, inside: Volumes, steady: Steady, rules: Rules,
    placing: Placing | None, doubt: ShapeDoubt | None, seen: SeenNoise,
) -> tuple[Noise, float, Areas]:
    """Noise, offset and areas. The noise is measured twice: first with the damage among it, then without."""
    depth_mm = np.where(depth.judged, depth.depth_mm, 0.0)

    limit = partial(_limit_mm, panel, steady, rules)

    def look(noise: Noise, sound: Mask) -> tuple[float, Areas]:
        shared = rules.line_up_mm if doubt is None else float(np.hypot(rules.line_up_mm, _typical(doubt, sound)))
        offset = _offset(depth_mm, panel.vertex_areas, sound, noise, shared, rules.true_mm)
        known = placing if offset == 0.0 else None  # sound metal off by more than it says: then it can't be believed
        field = Field(depth_mm, depth.judged & planned, noise, max(rules.line_up_mm, abs(offset)), known,
                      doubt)
        return offset, find_areas(panel, sheets, inside, steady, field, limit(noise, offset), rules.least_area_mm2)

    noise = _noise(panel, seen, depth.judged, rules, robust=True)
    offset, areas = look(noise, depth.judged)
    if rules.scan_error_stated:
        return noise, offset, areas
    sound = depth.judged & (np.abs(steady.smoothed_mm) < limit(noise, offset))
    sound[panel.triangles[areas.hemmed > 0]] = False
    again = _noise(panel, seen, sound, rules, robust=False)
    if again.source == _ASSUMED:  # hardly any metal is sound: the first look, damage and all, is the better one
        return noise, offset, areas
    return again, *look(again, sound)


def _typical(doubt: ShapeDoubt, sound: Mask) -> float:
    """Root mean square of a shape's own doubt on ``sound`` metal (n,), mm."""
    return float(np.sqrt(np.mean(doubt.doubt_mm[sound] ** 2))) if sound.any() else 0.0


def _noise(panel: Surface, seen: SeenNoise, sound: Mask, rules: Rules, robust: bool) -> Noise:
    cell = float(panel.vertex_areas @ panel.vertex_areas / panel.vertex_areas.sum())
    if rules.scan_error_stated:
        return stated(rules.scan_error_mm, rules.scan_error_length_mm, cell)
    noise = seen.noise(panel, sound, robust)
    if noise is None:
        return stated(rules.scan_error_mm, rules.scan_error_length_mm, cell, _ASSUMED)
    return noise


def _offset(
    depth_mm: Floats, area_mm2: Floats, sound: Mask, noise: Noise, line_up_mm: float, true_mm: float
) -> float:
    """Median depth of sound metal, mm, or 0 where it is no more than noise and line-up can make.

    Beyond the true tolerance it is 0 as well: such metal is not sound but low or high, as meant by who drew the shape.
    """
    if not sound.any():
        return 0.0
    middle = float(np.median(depth_mm[sound]))
    whole = float(area_mm2[sound].sum())
    least = 2 * np.hypot(line_up_mm, noise.of_volume(whole) / whole)
    return middle if least < abs(middle) <= true_mm else 0.0


def _only(depth: Depth, planned: Mask) -> Depth:
    """The same depths, as if points outside the work area were not judged."""
    if planned.all():
        return depth
    return replace(depth, reason=np.where(planned, depth.reason, np.int8(-1)))
