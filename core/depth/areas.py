"""The areas to work on: connected lows to fill and highs to bring down, each with its quantities."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from ..statistics.noise import Noise
from ..statistics.random_field import level_for_chance
from ..surface.surface import Floats, Ints, Mask, Surface
from .denoise import Steady
from .grow import Field, grown
from .outline import outline
from .placing import Placing
from .sheets import Sheets
from .volume import Volumes

_FAINT_MM = 0.02  # what is shallower is no work
_LEAST_SIGMAS = 4.0
_FALSE_ALARM = 0.002  # chance that noise alone makes a seed anywhere on a sound panel


@dataclass(frozen=True)
class Area:
    """One connected area. Lengths in mm, areas in mm2, volumes in mm3, all positive whatever the kind.

    ``number`` counts within its kind, largest volume first; ``noise_mm3`` and ``offset_mm3`` are the standard
    uncertainties from noise and from what shifts it as a whole, ``volume_u95_mm3`` the 95 % of both; ``offset_mm``: of
    its mean depth from that shift; ``shape_mm3``: what of it comes from a finished shape that was made here, the rest
    being shared by all areas; ``deepest_point_mm`` (3,) is in the panel's own frame.
    """

    number: int
    kind: str
    area_mm2: float
    perimeter_mm: float
    volume_mm3: float
    noise_mm3: float
    offset_mm3: float
    offset_mm: float
    volume_u95_mm3: float
    depth_max_mm: float
    deepest_point_mm: tuple[float, float, float]
    reaches_rim: bool
    longest_edge_mm: float
    shape_mm3: float = 0.0

    @property
    def line_up_mm3(self) -> float:
        """Standard uncertainty of the volume from what all areas share."""
        return float(np.sqrt(max(self.offset_mm3**2 - self.shape_mm3**2, 0.0)))

    @property
    def name(self) -> str:
        """As on screen and paper: Low 1, High 2."""
        return f"{self.kind.capitalize()} {self.number}"


@dataclass(frozen=True)
class Areas:
    """The areas, lows first; ``label`` (n,): for each panel vertex its place in ``found`` plus 1, or 0;
    ``hemmed`` (m,): the same for each panel triangle, where that area's volume is summed; ``shared`` (m,): the
    triangle is in a high as well, which takes what stands proud there; ``levers_mm3`` (areas, places): how far each
    place of a shape that was made here moves each area's volume."""

    found: tuple[Area, ...]
    label: Ints
    hemmed: Ints
    shared: Mask
    levers_mm3: Floats

    def of_kind(self, kind: str) -> tuple[Area, ...]:
        """The areas that are "low" or "high"."""
        return tuple(area for area in self.found if area.kind == kind)


def seeds(
    panel: Surface, steady_mm: Floats, judged: Mask, threshold_mm: float, least_mm2: float
) -> tuple[Ints, Floats]:
    """Labels 1..k of the connected parts of ``panel`` with steady depth beyond ``threshold_mm``, and their signs.

    ``steady_mm`` (n,) is denoised depth; a part smaller than ``least_mm2`` is no seed. Signs (k + 1,) are
    +1 for low and -1 for high, with one in front for "none".
    """
    side = np.where(judged & (np.abs(steady_mm) > threshold_mm), np.sign(steady_mm), 0.0).astype(np.int64)
    rows = np.flatnonzero(side)
    graph = panel.edge_counts[rows][:, rows].tocoo()
    alike = side[rows[graph.row]] == side[rows[graph.col]]  # a stored 0 would count as a tie as well
    ties = sparse.coo_matrix((graph.data[alike], (graph.row[alike], graph.col[alike])), shape=graph.shape)
    count, part = connected_components(ties, directed=False)
    large = np.bincount(part, panel.vertex_areas[rows], minlength=count) >= least_mm2
    number = np.where(large, np.cumsum(large), 0)
    label = np.zeros(len(side), dtype=np.int64)
    label[rows] = number[part]
    sign = np.ones(int(large.sum()) + 1)
    sign[label[rows]] = side[rows]
    return label, sign


def seed_threshold_mm(
    true_mm: float, noise: Noise, bandwidth_mm: float, area_mm2: float, perimeter_mm: float, offset_mm: float = 0.0
) -> float:
    """Least steady depth that is damage and not noise, mm.

    The true tolerance, or four times what noise leaves after smoothing, or the level that noise alone
    would pass anywhere on the panel once in 500 scans, whichever is greatest. ``offset_mm``: how far all
    sound metal lies off already.
    """
    left = noise.smoothed_mm(bandwidth_mm)
    if left <= 0:
        return true_mm
    length = float(np.sqrt(noise.length_mm**2 + 2 * bandwidth_mm**2)) or float(np.sqrt(noise.cell_mm2))
    level = level_for_chance(_FALSE_ALARM / 2, area_mm2, perimeter_mm, length)
    return max(true_mm, abs(offset_mm) + max(_LEAST_SIGMAS, level) * left)


def find_areas(
    panel: Surface, sheets: Sheets, inside: Volumes, steady: Steady, field: Field,
    threshold_mm: float, least_mm2: float = 100.0,
) -> Areas:
    """The areas of ``panel`` beyond ``threshold_mm``, with quantities from the ``sheets`` between and their volumes."""
    label, sign = seeds(panel, steady.smoothed_mm, field.judged, threshold_mm, least_mm2)
    label, hemmed = grown(panel, label, sign, field)
    # A ring goes on as a whole, so it overshoots where a long dent's sides end before its tips do.
    faint = max(_FAINT_MM, field.noise.smoothed_mm(steady.bandwidth_mm))
    label = np.where(sign[label] * steady.smoothed_mm > faint, label, 0)
    return _measured(panel, sheets, inside, label, hemmed, sign, steady.depth_mm, field)


def _measured(
    panel: Surface, sheets: Sheets, inside: Volumes, label: Ints, hemmed: Ints, sign: Floats, steady: Floats,
    field: Field,
) -> Areas:
    # A triangle belongs to the area that any corner belongs to: the outer corners lie where depth has run out.
    between = np.zeros(len(panel.triangles), dtype=bool)
    between[sheets.parent] = True
    of_triangle, summed = (np.where(between, _greatest(at, panel.triangles), 0) for at in (label, hemmed))
    low, high = (np.where(between, _greatest(np.where(side, hemmed, 0), panel.triangles), 0)
                 for side in (sign[hemmed] > 0, sign[hemmed] < 0))
    summed = np.where(low > 0, low, summed)
    shared, k = (low > 0) & (high > 0), len(sign)
    area = np.bincount(label, panel.vertex_areas, minlength=k)
    summed_area = np.bincount(summed, panel.areas, minlength=k)
    volume = _volumes_mm3(low[sheets.parent], high[sheets.parent], inside, k)
    raw = np.zeros(k)  # a denoised depth overshoots at a sharp edge, past all that was measured
    np.maximum.at(raw, label, sign[label] * field.depth_mm)
    perimeter, rim = outline(panel, of_triangle, k)
    longest = np.zeros(k)
    worked = np.flatnonzero(of_triangle)
    np.maximum.at(longest, of_triangle[worked], panel.longest_sides[worked])
    top = _deepest(label, sign, steady)
    levers = np.zeros((k, 0)) if field.doubt is None else field.doubt.levers_mm3(panel, summed, k)
    areas = {}
    for kind, which in (("low", 1.0), ("high", -1.0)):
        mine = [i for i in range(1, k) if sign[i] == which and volume[i] > 0]
        for number, i in enumerate(sorted(mine, key=lambda i: -volume[i]), start=1):
            noise, shape = field.noise.of_volume(float(summed_area[i])), float(np.linalg.norm(levers[i]))
            offset = float(np.hypot(_shared_mm3(panel, summed == i, field), shape))
            areas[i] = Area(
                number, kind, float(area[i]), float(perimeter[i]), float(volume[i]), noise, offset,
                offset / float(summed_area[i]), field.noise.factor_95 * float(np.hypot(noise, offset)),
                float(min(sign[i] * steady[top[i]], raw[i])), _place(panel, int(top[i])), bool(rim[i]),
                float(longest[i]), shape,
            )
    place = np.zeros(k, dtype=np.int64)
    place[list(areas)] = np.arange(1, len(areas) + 1)
    apart = shared & (place[low] > 0) & (place[high] > 0)
    return Areas(tuple(areas.values()), place[label], place[summed], apart, levers[list(areas)])


def _shared_mm3(panel: Surface, triangles: Mask, field: Field) -> float:
    if field.placing is not None:
        return shared_mm3(panel, triangles, field.placing)
    return float(panel.areas[triangles].sum()) * field.offset_mm


def shared_mm3(panel: Surface, triangles: Mask, placing: Placing) -> float:
    """Standard uncertainty, mm3, of the volume over ``triangles`` (m,) from what they all share: the line-up."""
    middles = panel.vertices[panel.triangles[triangles]].mean(axis=1)
    return placing.of_volume(middles, panel.normals[triangles], panel.areas[triangles])


def _volumes_mm3(low: Ints, high: Ints, inside: Volumes, k: int) -> Floats:
    """Volume of each label, (k,) mm3, from the labels (t,) of the low and of the high that a pair of triangles is in.

    With its sign, so that noise averages out; but where a low meets a high each takes its own part alone.
    """
    both = (low > 0) & (high > 0)
    fill = np.where(both, inside.fill_mm3, inside.signed_mm3)
    cut = np.where(both, inside.cut_mm3, -inside.signed_mm3)
    mine, theirs = (np.bincount(at, part, minlength=k).astype(np.float64) for at, part in ((low, fill), (high, cut)))
    return mine + theirs


def _greatest(label: Ints, triangles: Ints) -> Ints:
    """Greatest label at the corners of each triangle, (m,)."""
    first, second, third = (label[triangles[:, k]] for k in range(3))
    greatest: Ints = np.maximum(np.maximum(first, second), third)
    return greatest


def _deepest(label: Ints, sign: Floats, steady: Floats) -> Ints:
    """Row of the greatest steady depth in each label, (k,)."""
    rows = np.flatnonzero(label)
    order = rows[np.lexsort((sign[label[rows]] * steady[rows], label[rows]))]
    last = np.zeros(len(sign), dtype=np.int64)
    last[label[order]] = order  # the last one written is the greatest
    return last


def _place(panel: Surface, row: int) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in panel.vertices[row] + panel.origin)
    return x, y, z
