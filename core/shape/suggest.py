"""A suggestion of where a panel is damaged, from its curvature alone: where to begin marking, no more.

Where the sheet is bent otherwise than the sheet around it, more than noise explains, and not along a line that goes on
through the panel as creases and swages do, it is taken for damage. Looked at on two scales: small sharp dents
show on the finer, wide shallow ones on the coarser.

What it can't tell: a pocket or recess that ends inside the panel looks like a dent, as do the place where a swage fades
out and the one where two cross; a dent that runs on evenly for a third of the panel looks like a crease; and a dent as
wide as half the panel, or bent no more than the panel's own shape wanders, is taken for shape, in part or whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..progress import Progress, report_progress, silent
from ..surface.along_sheet import distance_from
from ..surface.nearest import Tree
from ..surface.pieces import pieces
from ..surface.surface import Floats, Ints, Mask, Surface
from ..surface.thin import thin
from .background import TO_SIGMA, background, polynomials
from .bend import Bend, Spreading, along_sheet
from .design_lines import Lines
from .trimmed import trimmed

_SCALES_MM = (10.0, 20.0)
_ENOUGH_TRIANGLES = 250_000
_BLEED = (0.02, 0.2)  # share of a place's greatest excess that spreading on each scale brings to sheet beside it
_LEAST_EDGES = (2.0, 4.0)  # no scale below so many edges
_FOLD_MM, _FOLDED = 5.0, 0.8  # metal that turns by more than 75 degrees within this is a rim to either side
_LEAST_SHARE = 0.35  # of a vertex's area after spreading: less is too near a rim to be judged
_EVEN = 1.5  # power of what is left of the area that makes the noise at rims no greater than inside: by trial
_SURE, _LIKELY = 5.5, 3.0  # times the noise: what a place must reach somewhere, and how far it reaches out from there
_LEAST_BEND = 4e-4  # 1/mm, 0.08 mm over 40 mm: no place is sure that is bent by less
_LEAST_MM2, _LEAST_SHEET_MM2 = 100.0, 2500.0
_WIDER_MM, _TOGETHER_MM, _CLOSED_MM = 10.0, 8.0, 8.0
_HOLE_SHARE, _MOST = 0.2, 0.5  # of the panel: what is filled at most, and more than which is no suggestion
_SHOULDER, _THIN = 0.5, 0.3  # of the scale: no place begins that near a line that was meant, nor is one that thin
_LEFT_OVER = 2.0  # a field's noise over that of the field less its own spread: 1.9 to 2.2 by calculation
_FADES = 1.7  # noise of the bend falls at least as the scale to this power, for noise alike over up to 20 mm


def suggested_damage(panel: Surface, progress: Progress = silent) -> Mask:
    """Vertices (n,) of ``panel`` (mm) that look damaged, and up to 18 mm of sound metal around them; may be none.

    None as well where more than half of the panel would be marked. Places of under 1 cm2 are left out, hollows within
    a dent's rim filled. It is a suggestion: a pocket looks like a dent, an even dent through the panel like a crease.
    A fine scan is looked at thinned: its scales are many edges wide even so.
    """
    report_progress(progress, 0.0, "Looking for damage")
    coarse = thin(replace(panel, row_of_input=None), _ENOUGH_TRIANGLES)
    marks = trimmed(coarse, _marked(coarse, progress), _WIDER_MM + _CLOSED_MM)
    if coarse.row_of_input is not None:
        row = coarse.row_of_input
        marks = (row >= 0) & marks[row]
    return without_crumbs(panel, marks, _LEAST_MM2)


def without_crumbs(panel: Surface, marks: Mask, least_mm2: float) -> Mask:
    """The ``marks`` (n,) without connected places of under ``least_mm2``."""
    part, _ = _parts(panel, marks, np.zeros(len(marks)))
    kept = marks.copy()
    kept[marks] = (np.bincount(part, panel.vertex_areas[marks]) >= least_mm2)[part]
    return kept


def _marked(panel: Surface, progress: Progress) -> Mask:
    marks = np.zeros(len(panel.vertices), dtype=bool)
    sheets = list(_sheets(panel))
    for k, (sheet, rows) in enumerate(sheets):
        for j, found in enumerate(_standing_out(sheet)):
            marks[rows[found]] = True
            report_progress(progress, 0.9 * (k + 0.5 * (j + 1)) / len(sheets), "Looking for damage")
    if not marks.any():
        return marks
    wide = _widened(panel, marks, _WIDER_MM + _CLOSED_MM)
    marks = _filled(panel, wide & ~_widened(panel, ~wide, _CLOSED_MM))
    return marks if panel.vertex_areas[marks].sum() <= _MOST * panel.area else np.zeros_like(marks)


def _sheets(panel: Surface) -> Iterator[tuple[Surface, Ints]]:
    """The panel's pieces, parted at the sharp folds of hems and flanges, and the panel's rows of their vertices."""
    spreading = Spreading(panel)
    normals = spreading.spread(spreading.normals(), max(_FOLD_MM, 1.5 * panel.mean_edge))
    folded = np.linalg.norm(normals, axis=1) < _FOLDED
    flat = Surface(panel.vertices, panel.triangles[~folded[panel.triangles].any(axis=1)])
    piece, areas = pieces(flat)
    for k in np.flatnonzero(areas >= _LEAST_SHEET_MM2):
        sheet = flat.part(piece == k)
        if sheet.row_of_input is not None:
            yield sheet, np.flatnonzero(sheet.row_of_input >= 0)


def _standing_out(sheet: Surface) -> Iterator[Mask]:
    """The vertices (n,) that stand out on each scale, the finer first."""
    spreading, tree, terms = Spreading(sheet), Tree(sheet), polynomials(sheet)
    plain, finest = np.ones(len(sheet.vertices), dtype=bool), None
    scales = tuple(max(scale, edges * sheet.mean_edge) for scale, edges in zip(_SCALES_MM, _LEAST_EDGES, strict=True))
    for bend, bleed in zip(spreading.bends(scales), _BLEED, strict=True):
        judged = bend.share > _LEAST_SHARE
        for _ in range(1 if finest else 2):  # again, once it is known what belongs to lines
            excess = _Excess.over(bend, terms, plain & judged, sheet.vertex_areas)
            finest = finest or (bend.scale_mm, excess.noise(spreading, bend.scale_mm, judged))
            noise = min(finest[1] * (finest[0] / bend.scale_mm) ** _FADES, excess.spread_over(plain & judged))
            likely = _LIKELY * max(noise, _LEAST_BEND / _SURE)
            odd = (excess.size > likely) & judged
            lines = Lines.of(sheet, tree, excess.tensor, bend.normals, ~judged, bend.scale_mm)
            plain = ~lines.designed(odd, likely)
        sure = _SURE * max(excess.spread_over(plain & judged), _LEAST_BEND / _SURE)
        beside = _widened(sheet, ~plain, _SHOULDER * bend.scale_mm)
        found = _places(sheet, odd & ~beside, excess.size, sure, bleed, _THIN * bend.scale_mm)
        yield found | (odd & beside & _widened(sheet, found, _SHOULDER * bend.scale_mm))


@dataclass(frozen=True, eq=False)
class _Excess:
    """What the bend has over its background, 1/mm: ``tensor`` (n, 3, 3), and ``size`` (n,) of its trace, noise even."""

    tensor: Floats
    size: Floats

    @classmethod
    def over(cls, bend: Bend, terms: Floats, plain: Mask, areas: Floats) -> _Excess:
        """Over a smooth background through the ``plain`` vertices (n,)."""
        tensor = along_sheet(bend.tensor - background(bend, terms, plain, areas), bend.normals)
        return cls(tensor, np.abs(np.trace(tensor, axis1=1, axis2=2)) * bend.share**_EVEN)

    def spread_over(self, plain: Mask) -> float:
        """Standard deviation as the median tells it, 1/mm."""
        return TO_SIGMA * float(np.median(self.size[plain])) if plain.any() else 0.0

    def noise(self, spreading: Spreading, scale_mm: float, judged: Mask) -> float:
        """Standard deviation of what is rough on the bend's own scale, 1/mm: noise, and not the panel's shape."""
        trace = np.trace(self.tensor, axis1=1, axis2=2)[:, None]
        rough = np.abs(trace - spreading.spread(trace, scale_mm))[judged]
        return _LEFT_OVER * TO_SIGMA * float(np.median(rough)) if len(rough) else 0.0


def _places(sheet: Surface, odd: Mask, size: Floats, sure: float, bleed: float, thin_mm: float) -> Mask:
    """Of the ``odd`` vertices (n,) those of places that are sure somewhere, large enough, and not too thin."""
    thin_mm = max(thin_mm, sheet.mean_edge)
    core = odd & ~_widened(sheet, ~odd, thin_mm)
    odd = odd & _widened(sheet, core, 1.5 * thin_mm)
    part, greatest = _parts(sheet, odd, size)
    odd[odd] = size[odd] > bleed * greatest[part]
    near = _widened(sheet, odd, _TOGETHER_MM)
    part, greatest = _parts(sheet, near, np.where(odd, size, 0.0))
    area = np.bincount(part, (sheet.vertex_areas * odd)[near], minlength=len(greatest))
    near[near] = ((greatest >= sure) & (area >= _LEAST_MM2))[part]
    return odd & near


def _parts(sheet: Surface, among: Mask, size: Floats) -> tuple[Ints, Floats]:
    """The connected part that each vertex ``among`` (n,) belongs to, (k,), and the greatest ``size`` in each part."""
    rows = np.flatnonzero(among)
    if not len(rows):
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    count, part = connected_components(sheet.edge_counts[rows][:, rows], directed=False)
    greatest = np.zeros(count)
    np.maximum.at(greatest, part, size[rows])
    return part, greatest


def _widened(sheet: Surface, marks: Mask, by_mm: float) -> Mask:
    return np.isfinite(distance_from(sheet, marks, by_mm))


def _filled(panel: Surface, marks: Mask) -> Mask:
    """With the sheet inside a ring of marks, or between one and the rim: small beside the piece that it belongs to."""
    part, _ = _parts(panel, ~marks, np.zeros(len(marks)))
    if not len(part):
        return marks
    triangle_piece, piece_area = pieces(panel)
    piece_of = np.full(len(marks), -1)
    piece_of[panel.triangles] = triangle_piece[:, None]
    area = np.bincount(part, panel.vertex_areas[~marks])
    piece = np.full(len(area), -1)
    piece[part] = piece_of[~marks]
    largest = np.zeros(len(piece_area) + 1)  # the last is for points without a triangle
    np.maximum.at(largest, piece, area)
    hole = (piece >= 0) & (area < largest[piece]) & (area < _HOLE_SHARE * np.append(piece_area, 0.0)[piece])
    filled = marks.copy()
    filled[~marks] = hole[part]
    return filled
