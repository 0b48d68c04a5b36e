"""What a plan must warn of, one plain sentence each."""

from __future__ import annotations

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..bench.area_work import AreaWork
from ..bench.highs import comes_off
from ..depth.depth import Reason
from ..depth.laid import LooksLaid
from ..depth.survey import Rules, Survey
from ..surface.condition import Condition
from ..surface.surface import Surface

_COVERED, _FACING = 0.8, 0.1
_MOST = 0.6  # of the metal
_SAME_MM = 1e-6
_CRUMB_MM2 = 10.0  # less of it is a scanner's stray


def warnings_of(
    panel: Surface, condition: Condition, turned: tuple[str, ...], found: Survey, works: tuple[AreaWork, ...],
    rules: Rules, laid: tuple[LooksLaid, ...] = (), surface: str = "bare",
) -> tuple[str, ...]:
    """The warnings that ``found`` on ``panel`` calls for, gravest first; none for a good scan and a plain job."""
    return (
        *_same(found), *turned, *coverage(panel, found), *_common(panel, found, rules), *_missed(found),
        *_laid(laid, works), *_beyond_reach(panel, found, works, rules, surface), *_running_on(panel, found, works),
        *_noise(found, rules), *_offset(found), *_coarse(condition, works), *_unknown_shape(panel, found, works),
        *(work.advice for work in works if work.advice),
    )


def _same(found: Survey) -> list[str]:
    depth = found.depth
    if not depth.judged.all() or abs(depth.depth_mm).max() > _SAME_MM:
        return []
    return ["panel and finished shape are the same surface, so there is nothing to fill; "
            "give the scan first and the finished shape second"]


def coverage(panel: Surface, found: Survey) -> tuple[str, ...]:
    """What calls for a warning where much of ``panel`` is not judged."""
    return (*_covering(panel, found), *_facing(panel, found))


def _covering(panel: Surface, found: Survey) -> list[str]:
    share = _share(panel, found, found.depth.judged)
    if share >= _COVERED:
        return []
    return [f"the finished shape covers {share:.0%} of the panel; the rest is not measured: "
            "right for a mirrored half or a part, else take a larger shape or mark the work area"]


def _facing(panel: Surface, found: Survey) -> list[str]:
    share = _share(panel, found, found.depth.reason == Reason.FACES_AWAY)
    if share <= _FACING:
        return []
    return [f"{share:.0%} of the panel faces the other way from the finished shape and is not measured: "
            "check which way the faces of both look"]


def _common(panel: Surface, found: Survey, rules: Rules) -> list[str]:
    """Most of the metal off by much the same: hardly damage, and the areas then say little."""
    judged = found.depth.judged
    depth, area = found.steady.smoothed_mm[judged], panel.vertex_areas[judged]
    if not len(depth):
        return []
    order = np.argsort(depth)
    common = float(depth[order][np.searchsorted(np.cumsum(area[order]), 0.5 * area.sum())])
    noise = found.noise.smoothed_mm(found.steady.bandwidth_mm)  # large damage may pass for it: hence min
    near = np.abs(depth - common) < max(0.5 * rules.true_mm, min(2 * noise, 0.3 * abs(common)))
    share = float(area[near].sum() / area.sum())
    if abs(common) <= rules.true_mm or share < _MOST:
        return []
    side, cause = ("low", "or the shape lies that far out on purpose") if common > 0 else (
        "high", "or old material is still on it")
    return [f"{share:.0%} of the metal is {side} by much the same, {abs(common):.2f} mm: that is hardly damage, but "
            "paint on the finished shape (--finish-mm), a line-up that is off (--line-up), another panel's shape, "
            f"{cause}; put that right first, else the areas hold the whole panel"]


def _missed(found: Survey) -> list[str]:
    """What the areas leave out although it is large and deep enough for one."""
    return [f"{part.volume_mm3 / 1000:.1f} cm³ of {part.kind} metal, {part.area_mm2 / 100:.0f} cm² about "
            f"({', '.join(f'{v:.0f}' for v in part.middle_mm)}) mm, is in no area although it is large and far enough "
            "off for one: look there yourself, or plan that part alone as a work area"
            for part in found.accounts.missed]


def _laid(laid: tuple[LooksLaid, ...], works: tuple[AreaWork, ...]) -> list[str]:
    """Highs of a panel planned as bare that look like fresh solder: asked, because the shape alone can't tell."""
    said = [
        f"{works[one.place - 1].area.name} is wide and lies over {', '.join(one.over)} of the plan before: is solder "
        "or filler laid there? Then plan it as laid (--surface laid) and hammer nothing; bare metal that was raised "
        "too far looks the same"
        for one in laid if one.over
    ]
    wide = ", ".join(works[one.place - 1].area.name for one in laid if not one.over)
    return [*said, f"{wide}: wide, and more stands proud than lies low: is it solder, filler or primer? Then say so "
            "(--surface laid or primed) and hammer nothing; a bulge of bare metal looks the same"] if wide else said


def _beyond_reach(
    panel: Surface, found: Survey, works: tuple[AreaWork, ...], rules: Rules, surface: str
) -> list[str]:
    """Metal too far from the shape to be measured: the bottom of a low, the top of a high, or what touches neither."""
    depth = found.depth
    rows = np.flatnonzero(found.planned & (depth.reason == Reason.TOO_FAR))
    links = panel.edge_counts[rows]
    count, part = connected_components(links[:, rows], directed=False)
    side = np.sign(np.bincount(part, links @ np.where(depth.judged, depth.depth_mm, 0.0), minlength=count))[part]
    rough = f"{comes_off(surface)}rough it out first"
    said, reach = [], f"is looked ({rules.reach_mm:g} mm)"
    for sign, text in (
        (1, f"lie deeper than {reach} and are in no figure: {rough}, then scan again; where the shape is "
            "designed so, build this in sheet"),
        (-1, f"stand prouder than {reach} and are in no figure: lower it first, then scan again"),
        (0, f"lie further off than {reach}, apart from what is measured, and are in no figure: right where the "
            f"finished shape does not go on (a mirrored half, a part); if it is a dent, {rough}, then scan again; if "
            "it is no part of the panel, cut it out of the scan"),
    ):
        inside = side == sign
        mm2 = float(panel.vertex_areas[rows[inside]].sum())
        if mm2 >= _CRUMB_MM2:
            beside = set(found.areas.label[links[inside].indices]) - {0}
            names = ", ".join(works[place - 1].area.name for place in sorted(beside))
            said.append(f"{names}: {mm2 / 100:.1f} cm² {text}" if names else f"{mm2 / 100:.1f} cm² of the panel {text}")
    return said


def _running_on(panel: Surface, found: Survey, works: tuple[AreaWork, ...]) -> list[str]:
    """Areas beside metal that is not judged: nobody knows how deep they are there; beyond the reach is said apart."""
    reason = found.depth.reason
    unknown = (found.planned & ~found.depth.judged & (reason != Reason.TOO_FAR)).astype(np.float64)
    places = set(found.areas.label[(panel.edge_counts @ unknown) > 0]) - {0}
    if not places:
        return []
    names = ", ".join(works[place - 1].area.name for place in sorted(places))
    return [f"{names}: part of the metal beside it is not measured, so there may be more of it, and deeper, than is "
            "said here; take a finished shape that covers it"]


def _share(panel: Surface, found: Survey, which: object) -> float:
    area = panel.vertex_areas[found.planned]
    return float(area[which[found.planned]].sum() / area.sum())  # type: ignore[index]


def _noise(found: Survey, rules: Rules) -> list[str]:
    sigma = found.noise.sigma_mm
    if sigma <= rules.true_mm:
        return []
    return [f"the scan is rough by {sigma:.2f} mm, more than the {rules.true_mm:g} mm that count as true: it cannot "
            "tell 0.3 mm from 1 mm; use it for rough quantity, not for filing"]


def _offset(found: Survey) -> list[str]:
    if found.offset_mm == 0.0:
        return []
    side = "below" if found.offset_mm > 0 else "above"
    return [f"sound metal lies {abs(found.offset_mm):.2f} mm {side} the finished shape on the whole: line the scan up "
            "again, or state the paint's thickness"]


def _coarse(condition: Condition, works: tuple[AreaWork, ...]) -> list[str]:
    coarse = [w.area for w in works if w.area.longest_edge_mm > w.area.area_mm2 / max(w.area.perimeter_mm, 1e-9)]
    if not coarse:
        return []
    names = ", ".join(area.name for area in coarse)
    return [f"the scan is coarse for {names}: an edge there is longer than a quarter of the area's width "
            f"(mean edge {condition.mean_edge_mm:.1f} mm); scan finer for a volume to trust"]


def _unknown_shape(panel: Surface, found: Survey, works: tuple[AreaWork, ...]) -> list[str]:
    """What the shape's own trust says, and areas where it was made here and nobody knows how far it may be off."""
    if found.doubt is None:
        return []
    unknown = found.doubt.unknown & (found.areas.label > 0)
    places = sorted(set(found.areas.label[unknown]) - {0})
    if not places:
        return list(found.doubt.notes)
    names = ", ".join(works[place - 1].area.name for place in places)
    cm2 = panel.vertex_areas[unknown].sum() / 100
    return [*found.doubt.notes, f"{names}: how far the finished shape itself may be off there ({cm2:.1f} cm²) is not "
            "known, so the give or take says nothing of it: hold the shape against the panel first"]
