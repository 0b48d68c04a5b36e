"""Where all the volume between panel and target went: into areas, or, said by size and place, into none."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from ..surface.surface import Floats, Ints, Surface
from .areas import Areas
from .sheets import Sheets
from .volume import Volumes


@dataclass(frozen=True)
class Split:
    """One side's ``enclosed_mm3`` volume, and the parts that add up to it, mm3.

    ``areas``: of the areas of that kind; ``evened_out``: inside areas, against as much of the other sign (noise);
    ``too_small``: beyond the threshold, in parts under the least area; ``left_out``: in parts that are large and deep
    enough for an area and yet in none; ``too_shallow``: the rest, within noise or the true tolerance.
    """

    enclosed_mm3: float
    areas_mm3: float
    evened_out_mm3: float
    too_small_mm3: float
    left_out_mm3: float
    too_shallow_mm3: float


@dataclass(frozen=True)
class Missed:
    """A part that is large and deep enough for an area and is in none: its ``kind``, size and middle, which is in the
    panel's own frame, mm."""

    kind: str
    area_mm2: float
    volume_mm3: float
    middle_mm: tuple[float, float, float]


@dataclass(frozen=True)
class Accounts:
    """The enclosed ``fill`` and ``cut``, each told apart, and what is ``missed``: nothing explains that."""

    fill: Split
    cut: Split
    missed: tuple[Missed, ...]


def accounts(
    panel: Surface, sheets: Sheets, inside: Volumes, areas: Areas, beyond: Floats, least_mm2: float
) -> Accounts:
    """The enclosed volumes of ``inside``, mm3, told apart by the ``areas`` of ``panel``.

    ``beyond`` (n,): +1 where a vertex lies lower than an area's threshold, -1 where higher, 0 between. Every part is
    summed for itself: that they add up shows that nothing is lost and nothing counted twice.
    """
    kind = np.array([0, *(1 if area.kind == "low" else -1 for area in areas.found)])[areas.hemmed]
    side = np.where(kind == 0, _side(panel, beyond), 0)
    part, sizes = _parts(panel, side)
    large = (sizes >= least_mm2)[part] & (side != 0)
    of, apart = kind[sheets.parent], ~areas.shared[sheets.parent]
    evened = float(inside.cut_mm3[(of > 0) & apart].sum() + inside.fill_mm3[of < 0].sum())
    fill, cut = (
        Split(
            float(volume.sum()), sum(area.volume_mm3 for area in areas.of_kind(name)), evened,
            *(float(volume[(of == 0) & which[sheets.parent]].sum())
              for which in ((side == sign) & ~large, (side == sign) & large, side != sign)),
        )
        for volume, name, sign in ((inside.fill_mm3, "low", 1), (inside.cut_mm3, "high", -1))
    )
    volume = np.bincount(part[sheets.parent], np.abs(inside.signed_mm3), minlength=len(sizes))
    return Accounts(fill, cut, tuple(_missed(panel, side, part, k, sizes[k], volume[k])
                                     for k in np.unique(part[large])))


def _side(panel: Surface, beyond: Floats) -> Ints:
    """+1 or -1 for each triangle whose corners are all beyond the threshold, (m,); 0 for the others."""
    corners = beyond[panel.triangles]
    side: Ints = np.where(corners.min(axis=1) > 0, 1, np.where(corners.max(axis=1) < 0, -1, 0))
    return side


def _parts(panel: Surface, side: Ints) -> tuple[Ints, Floats]:
    """Number of the connected part of its side that each triangle is in, (m,), and the parts' areas, mm2."""
    part = np.zeros(len(side), dtype=np.int64)
    sizes, count = [np.zeros(1)], 1
    for sign in (1, -1):
        rows = np.flatnonzero(side == sign)
        ends = np.repeat(np.arange(len(rows)), 3), len(rows) + panel.triangles[rows].ravel()  # a tie to each corner
        shape = 2 * (len(rows) + len(panel.vertices),)
        ties = sparse.coo_matrix((np.ones(3 * len(rows), dtype=np.int8), ends), shape=shape)
        number, label = connected_components(ties, directed=False)
        part[rows] = label[: len(rows)] + count
        sizes.append(np.bincount(label[: len(rows)], panel.areas[rows], minlength=number).astype(np.float64))
        count += number
    return part, np.concatenate(sizes)


def _missed(panel: Surface, side: Ints, part: Ints, k: int, area_mm2: float, volume_mm3: float) -> Missed:
    mine = np.flatnonzero(part == k)
    middle = np.average(panel.vertices[panel.triangles[mine]].mean(axis=1), axis=0, weights=panel.areas[mine])
    x, y, z = (float(v) for v in middle + panel.origin)
    return Missed("low" if side[mine[0]] > 0 else "high", float(area_mm2), float(volume_mm3), (x, y, z))
