"""Which side of a panel that was scanned from both is its outside, against a finished shape that has two sides too.

Each inner face would be judged against the shape's inner side: a dent would be there a second time, as high metal.
"""

from __future__ import annotations

import numpy as np

from ..surface.nearest import Tree
from ..surface.skins import Skins, skins, with_walls
from ..surface.surface import Floats, Ints, Mask, Surface, dot
from ..surface.windings import REACH_MM, is_solid, turn_to_target
from .feet import find_feet

_ASKED = 4000  # faces of each skin
# A skin lies on the shape where it is this near in the middle and the other is not, or is nearer by this much, or, for
# want of anything better, by the last of these (common practice, no source).
_ON_MM, _MUCH_NEARER_MM, _NEARER_MM = 0.1, 3.0, 0.05
_CROWN_PER_MM = 1e-5  # a crown of 100 m is flat


def facing_target(panel: Surface, target: Surface, tree: Tree) -> tuple[Surface, tuple[str, ...]]:
    """The panel as it faces ``target``, whose own ``tree`` comes with it, and plain sentences on what was done to it.

    As `turn_to_target`; where the target is solid and the panel sheet metal scanned from both sides, its inner faces
    and the walls around its rims are left out (``row_of_input`` says which vertices are left). Raises InputError where
    the two sides can't be told apart.
    """
    found = skins(panel, "panel") if is_solid(target) else None
    if found is None:
        return turn_to_target(panel, target, tree)
    inner, why = _inner_skins(panel, found, target, tree)
    left_out = with_walls(found, inner)
    note = (
        f"the panel was scanned from both sides and the finished shape has two sides: the panel's inner side and its "
        f"walls ({panel.areas[left_out].sum() / 100:.1f} cm²) are left out; taken for the outer side is the one that "
        f"{why}; if low and high look swapped, cut the inner side off the finished shape"
    )
    outer, notes = turn_to_target(panel.part(~left_out), target, tree, (found.part >= 0)[~left_out])
    return outer, (note, *notes)


def rows_left(before: Surface, after: Surface) -> Ints:
    """For each vertex of ``before`` (n,) its row in ``after``, a part of it, or -1 where it was left out."""
    if before.row_of_input is None:
        return np.arange(len(before.vertices)) if after.row_of_input is None else after.row_of_input
    assert after.row_of_input is not None  # whoever leaves vertices out says which
    rows = np.full(len(before.vertices), -1)
    there = before.row_of_input >= 0
    rows[before.row_of_input[there]] = after.row_of_input[there]
    return rows


def _inner_skins(panel: Surface, found: Skins, target: Surface, tree: Tree) -> tuple[Mask, str]:
    """The faces of inner skins (m,), and what told the outer one of the largest part."""
    inner = np.zeros(len(found.part), dtype=bool)
    told: dict[str, float] = {}
    for part in np.unique(found.part[found.part >= 0]):
        sides = [np.flatnonzero((found.part == part) & (found.side == side)) for side in (0, 1)]
        if min(len(rows) for rows in sides) == 0:
            continue
        outer, why = _outer_of(panel, sides, target, tree)
        inner[sides[1 - outer]] = True
        told[why] = max(told.get(why, 0.0), float(panel.areas[sides[0]].sum()))
    return inner, max(told, key=lambda why: told[why], default="is there alone")


def _outer_of(panel: Surface, sides: list[Ints], target: Surface, tree: Tree) -> tuple[int, str]:
    """Which of the two skins is the outer one, and how that was told."""
    off, below, crown = zip(*(_lie(panel, rows, target, tree) for rows in sides), strict=True)
    near = int(off[1] < off[0])
    gap = off[1 - near] - off[near]
    if gap > _MUCH_NEARER_MM or (off[near] < _ON_MM and off[1 - near] > 2 * off[near] + _ON_MM):
        return near, "lies on the shape"
    if abs(crown[0] - crown[1]) > 2 * _CROWN_PER_MM:
        return int(crown[1] > crown[0]), "bulges"
    if gap > _NEARER_MM:
        return near, "lies nearer to the shape"
    return int(below[1] > below[0]), "has more to fill"


def _lie(panel: Surface, rows: Ints, target: Surface, tree: Tree) -> tuple[float, float, float]:
    """How the faces ``rows`` lie to the target: off (median) and below it (mean), mm, and how it bulges there, 1/mm."""
    rng = np.random.default_rng(0)
    area = np.cumsum(panel.areas[rows])
    asked = rows[np.searchsorted(area, area[-1] * rng.random(_ASKED)).clip(max=len(rows) - 1)]
    points = panel.vertices[panel.triangles[asked]].mean(axis=1) + (panel.origin - target.origin)
    feet = find_feet(points, panel.normals[asked], target, tree, REACH_MM)
    off = float(np.median(np.where(feet.found, feet.distance_mm, REACH_MM)))
    if not feet.found.any():
        return off, -REACH_MM, 0.0
    foot, normal = feet.points[feet.found], target.normals[feet.triangle[feet.found]]
    below = dot(foot - points[feet.found], normal)
    return off, float(below.mean()), _crown(foot, normal, rng)


def _crown(points: Floats, normals: Floats, rng: np.random.Generator) -> float:
    """Mean curvature in pairs of points taken at random, 1/mm; positive where the surface bulges along its normals."""
    other = rng.permutation(len(points))
    step, turn = points[other] - points, normals[other] - normals
    return float(dot(step, turn).sum() / max(float(dot(step, step).sum()), 1e-30))
