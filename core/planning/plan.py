"""The main job: from a panel and a finished shape to how much to fill, where, and how thick to overbuild."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from ..bench.area_work import AreaWork, Laying, area_works, summed
from ..bench.cautions import Moment
from ..bench.lay_up import LayUp
from ..bench.materials import Material
from ..bench.quantity import Quantity, quantity
from ..bench.raised_first import Raised, raised_first
from ..bench.totals import Totals, totals_of
from ..depth.laid import KnownLow, LooksLaid, gone, looks_laid
from ..depth.outer_side import facing_target
from ..depth.placing import Placing
from ..depth.shape_trust import ShapeTrust
from ..depth.survey import Lie, Survey, lie_of, rules_of, survey_of
from ..errors import InputError, NoOverlapError
from ..fill.overbuild import Hand
from ..place.locate_by import Locating
from ..place.onto import Landmarks, Onto, onto
from ..place.register import SURFACE_ALONE
from ..progress import Progress, report_progress, silent, within
from ..settings import Settings
from ..surface.condition import Condition, mend
from ..surface.nearest import Tree
from ..surface.surface import Floats, Mask, Surface
from ..threads import at_once
from .warn import warnings_of

_MOST_SIZE_RATIO = 200.0
_MOST_AT_ONCE = 10_000_000  # triangles of both; mending larger ones side by side is not worth the memory


@dataclass(frozen=True)
class Scan:
    """A mesh made ready: mended, ordered, with its ``condition`` and, for a panel, what was ``turned`` over."""

    surface: Surface
    condition: Condition
    turned: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """A fill plan: what lies between the two surfaces, the work on each area, what to buy, and what to mind.

    ``totals`` and ``quantity`` are of the metal as it lies; ``raised`` is what is recommended where some of it is too
    deep for the material, else None.
    """

    settings: Settings
    material: Material
    panel: Scan
    target: Scan
    survey: Survey
    works: tuple[AreaWork, ...]
    totals: Totals
    quantity: Quantity
    raised: Raised | None
    cautions: tuple[Moment, ...]
    warnings: tuple[str, ...]
    line_up: Onto | None = None
    before: tuple[KnownLow, ...] = ()
    laid: tuple[LooksLaid, ...] = ()

    @property
    def lay_up(self) -> LayUp:
        """How the material goes on everywhere: with the job's greatest overbuild."""
        return LayUp.of(self.material, self.totals.minimum_overbuild_mm)


@dataclass(frozen=True)
class Lining:
    """That the panel is to be lined up first: from ``landmarks`` where there are any, held by what is ``locating`` it,
    without those of the vertices that came which are set ``aside`` (k,)."""

    landmarks: Landmarks | None = None
    locating: Locating = SURFACE_ALONE
    aside: Mask | None = None


def make_plan(
    panel: Surface, target: Surface, settings: Settings, material: Material,
    work_area: Mask | None = None, progress: Progress = silent, lining: Lining | None = None,
    placing: Placing | None = None, before: tuple[KnownLow, ...] = (),
    trust: ShapeTrust | None = None, notes: tuple[str, ...] = (),
) -> Plan:
    """The plan for ``panel`` against ``target``, both as read, in mm.

    ``work_area`` (k,): which of the vertices that came are planned for; None for all. ``lining``: how to line the
    panel up first; None where both are in one frame already. ``placing``: how well it was lined up before, about a
    centre counted from that frame's origin; None takes the settings' one figure, or that of ``lining``.
    ``before``: the lows that a plan before has found, in the shape's frame; highs over them are asked about.
    ``trust``: how far the target itself may be off, vertex by vertex as it came, where it was made here.
    ``notes``: further plain sentences to warn of.
    Raises InputError for meshes that can't be used, NoOverlapError where the two don't lie on one another.
    """
    # 1. Two clean sheets about one origin, the panel facing as the target does.
    report_progress(progress, 0.0, "Looking over scan and finished shape")
    (sheet, condition), (shape, shape_condition) = _mended(panel, target)
    _check_sizes(sheet, shape)
    report_progress(progress, 0.15, "Laying the scan over the shape")
    tree = Tree(shape)
    fit = None
    if lining is None:
        sheet, turned = facing_target(sheet, shape, tree)
    else:
        aside = None if lining.aside is None else _moved(lining.aside, sheet, "aside")
        fit = onto(
            sheet, shape, tree, lining.landmarks, aside, lining.locating, settings.finish_mm,
            within(progress, 0.2, 0.3),
        )
        sheet, turned = fit.panel, fit.turned
    planned = None if work_area is None else _moved(work_area, sheet, "work area")

    # 2. What lies between them.
    for surface in (sheet, shape):
        surface.forget("_measures")
    sheet.forget("normals")
    rules = rules_of(settings)
    lie = lie_of(sheet, shape, tree, rules, planned, within(progress, 0.3, 0.6))
    _check_overlap(lie, sheet, shape)
    del tree  # a quarter of all memory, and nothing below asks it
    found = survey_of(
        lie, sheet, shape, rules, within(progress, 0.6, 0.85),
        _about(placing, sheet) if fit is None else fit.fit.covariance.placing,
        None if trust is None else trust.moved(shape),
    )

    # 3. What to lay.
    report_progress(progress, 0.88, "Working out the overbuild")
    hand = Hand(settings.lay_sigma_mm, settings.lay_correlation_mm, settings.clean_up_mm, settings.surfacer_mm)
    laying = Laying(material, hand, settings.risk, settings.margin_mm, settings.new_metal_mm, settings.surface)
    works = area_works(sheet, found, laying)
    totals = totals_of(sheet, works, found, hand)
    laid = looks_laid(sheet, found, before) if settings.surface == "bare" else ()
    said = warnings_of(sheet, condition, turned, found, works, rules, laid, settings.surface)
    panel_scan, target_scan = Scan(sheet, condition, turned), Scan(shape, shape_condition)
    return Plan(
        settings, material, panel_scan, target_scan, found, works, totals,
        quantity(summed(works, raised=False), material, settings.reserve_share),
        raised_first(works, material, settings.reserve_share),
        material.cautions,
        (*notes, *(fit.warnings if fit else ()), *said),
        fit, gone(before, found), laid,
    )


def _mended(panel: Surface, target: Surface) -> tuple[tuple[Surface, Condition], tuple[Surface, Condition]]:
    """Both mended, counted from the middle of the panel's box, and without what only the mending asked for."""
    panel = _centred(panel)
    target = target.about(panel.origin)

    def one(surface: Surface, name: str) -> tuple[Surface, Condition]:
        mended, condition = mend(surface, name)
        mended.forget("half_edges", *(("edge_counts",) if name == "target" else ()))
        return mended, condition

    if len(panel.triangles) + len(target.triangles) > _MOST_AT_ONCE:
        return one(panel, "panel"), one(target, "target")
    return at_once(partial(one, panel, "panel"), partial(one, target, "target"))


def _centred(panel: Surface) -> Surface:
    """Counted from the middle of its box, so that a scan far from the origin loses nothing."""
    return panel.about(panel.origin + 0.5 * (panel.box[0] + panel.box[1]))


def _about(placing: Placing | None, sheet: Surface) -> Placing | None:
    """Its centre counted as the sheet's vertices are."""
    return None if placing is None else replace(placing, centre=placing.centre - sheet.origin)


def _moved(marks: Mask, sheet: Surface, what: str) -> Mask:
    """Marks (k,) of the vertices that came, for those that are left (n,)."""
    row = sheet.row_of_input
    moved = np.zeros(len(sheet.vertices), dtype=bool)
    if row is None or len(row) != len(marks):
        raise InputError(f"{what}: {len(marks)} marks came for a panel of {len(sheet.vertices)} vertices")
    moved[row[marks & (row >= 0)]] = True
    if not moved.any():
        raise InputError(f"{what}: no vertex of the panel is in it; mark a part of the panel")
    return moved


def _check_sizes(panel: Surface, target: Surface) -> None:
    ratio = target.diagonal / panel.diagonal
    if not 1 / _MOST_SIZE_RATIO < ratio < _MOST_SIZE_RATIO:
        raise InputError(
            f"the panel measures {panel.diagonal:.4g} mm across and the finished shape {target.diagonal:.4g} mm; "
            "their units differ: state --panel-unit and --target-unit"
        )


def _check_overlap(lie: Lie, panel: Surface, target: Surface) -> None:
    if lie.depth.judged[lie.planned].any():
        return
    apart = _gap(panel, target)
    raise NoOverlapError(
        f"panel and finished shape do not lie on one another: no part of the panel has the shape within reach, "
        f"facing its way (boxes {apart:.4g} mm apart; {panel.diagonal:.4g} mm and {target.diagonal:.4g} mm across); "
        "line the scan up first, and check the units"
    )


def _gap(panel: Surface, target: Surface) -> float:
    """Distance between the two boxes, mm; 0 where they overlap."""
    (low, high), (bottom, top) = panel.box, target.box
    gap: Floats = np.maximum(np.maximum(low - top, bottom - high), 0.0)
    return float(np.linalg.norm(gap))
