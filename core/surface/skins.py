"""The two skins of sheet metal that was scanned from both sides, told face by face.

A face belongs to a sheet where another lies close behind it through the metal and faces the other way. Faces that go
on into one another are one skin; the face behind belongs to the other one. What joins the skins around a rim has
nothing close behind it, and belongs to neither.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components, minimum_spanning_tree

from ..errors import InputError
from .nearest import Tree
from .parity import two_states
from .surface import Ints, Mask, Surface, dot
from .windings import joints

SHEET_MM = 4.0  # sheet metal is no thicker than this, two sheets of it welded together included (from memory)
_LEAST_SHARE = 0.25  # of the area has metal behind it: less is a hem or a thin edge and no scan from both sides
_ASKED = 2000
_START_MM = 0.01  # below a face, so that it is not found to lie behind itself
_AGAINST = -0.9  # cosine: faces turned against one another within 26 degrees, as those of a rounded rim are not
_GOES_ON = 0.5  # cosine: a fold of less than 60 degrees is no edge of a skin
_RINGS = 4  # of faces that may be taken off around a doubtful rim
_MIXED, _CRUMB = 0.02, 0.01
_TOUCHING = 0.25  # of a wall's joints lead to the inner skin; of an outer face's hardly any


@dataclass(frozen=True, eq=False)
class Skins:
    """``part`` (m,) of the sheet that each face is of, -1 for none; ``side`` (m,): 0 or 1, which skin of it, -1 for
    none; ``joints``: the pairs of faces that share an edge with no third."""

    part: Ints
    side: Ints
    joints: tuple[Ints, Ints]


def skins(surface: Surface, name: str) -> Skins | None:
    """The two skins of each part of ``surface``, or None where it was scanned from one side.

    Raises InputError where it was scanned from both and they run into one another, so that they can't be told apart.
    """
    tree = Tree(surface)
    area = np.cumsum(surface.areas)
    few = np.searchsorted(area, area[-1] * np.random.default_rng(0).random(_ASKED)).clip(max=len(area) - 1)
    if (_behind(surface, tree, few) >= 0).mean() < _LEAST_SHARE:
        return None
    return _told(surface, _behind(surface, tree, np.arange(len(area))), name)


def _behind(surface: Surface, tree: Tree, rows: Ints) -> Ints:
    """The face that lies behind each of ``rows`` (k,) through the metal and faces the other way, or -1."""
    normal = surface.normals[rows]
    start = surface.vertices[surface.triangles[rows]].mean(axis=1) - _START_MM * normal
    found, _ = tree.first_hit(start, -normal, SHEET_MM)
    return np.where((found >= 0) & (dot(normal, surface.normals[found]) < _AGAINST), found, -1)


def _told(surface: Surface, partner: Ints, name: str) -> Skins:
    first, second, _ = joints(surface)
    goes_on = dot(surface.normals[first], surface.normals[second]) > _GOES_ON
    sheet = partner >= 0
    for _ in range(_RINGS):
        patch, count = _patches(first[goes_on], second[goes_on], sheet)
        if _mixed_share(surface, patch, partner) < _MIXED:
            return _paired(surface, patch, count, partner, (first, second))
        sheet = _without_ring(surface, sheet)
    raise InputError(
        f"{name}: it was scanned from both sides, and the two run into one another so that they can't be told apart; "
        "cut the inner side off"
    )


def _patches(first: Ints, second: Ints, among: Mask) -> tuple[Ints, int]:
    """The patch of each face ``among`` (m,) those that hang together by their joints, else -1; how many there are."""
    both = among[first] & among[second]
    ties = sparse.coo_matrix((np.ones(int(both.sum()), dtype=np.int8), (first[both], second[both])), (len(among),) * 2)
    _, label = connected_components(ties, directed=False)
    used, patch = np.unique(label[among], return_inverse=True)
    out = np.full(len(among), -1)
    out[among] = patch
    return out, len(used)


def _without_ring(surface: Surface, sheet: Mask) -> Mask:
    """The faces of ``sheet`` (m,) that share no point with others."""
    edge = np.zeros(len(surface.vertices), dtype=bool)
    edge[surface.triangles[~sheet]] = True
    left: Mask = ~edge[surface.triangles].any(axis=1)
    return left


def _mixed_share(surface: Surface, patch: Ints, partner: Ints) -> float:
    """Share of the area whose face behind lies in the same patch."""
    rows = np.flatnonzero((patch >= 0) & (patch[partner] >= 0))
    area = surface.areas[rows]
    return float(area[patch[rows] == patch[partner[rows]]].sum() / max(area.sum(), 1e-30))


def _paired(surface: Surface, patch: Ints, count: int, partner: Ints, edges: tuple[Ints, Ints]) -> Skins:
    """Patches made two skins a part: what lies behind is the other skin, what goes on around a crease the same one.

    Where these contradict one another the greater area wins, through the heaviest spanning tree.
    """
    face = np.flatnonzero((patch >= 0) & (patch[partner] >= 0))
    first, second = (end[(patch[edges[0]] >= 0) & (patch[edges[1]] >= 0)] for end in edges)
    one = np.concatenate([patch[face], patch[first]])
    other = np.concatenate([patch[partner[face]], patch[second]])
    weight = np.concatenate([-surface.areas[face], np.minimum(surface.areas[first], surface.areas[second])])
    apart = one != other
    low, high = np.minimum(one, other)[apart], np.maximum(one, other)[apart]
    ties = sparse.coo_matrix((weight[apart], (low, high)), shape=(count, count)).tocsr()
    tree = minimum_spanning_tree(-abs(ties)).tocoo()
    alike = np.asarray(ties[tree.row, tree.col]).reshape(-1) > 0
    as_is, over = two_states(tree.row.astype(np.int64), tree.col.astype(np.int64), alike, count)
    part = np.unique(np.minimum(as_is, over), return_inverse=True)[1].reshape(-1)
    return Skins(*_of_faces(surface, patch, part, (as_is > over).astype(np.int64)), edges)


def _of_faces(surface: Surface, patch: Ints, part: Ints, side: Ints) -> tuple[Ints, Ints]:
    """Part and side of each patch (c,) given to its faces (m,); parts of little area are none."""
    mine = np.where(patch >= 0, part[patch], -1)
    area = np.bincount(mine + 1, surface.areas)[1:]
    mine[(mine >= 0) & (area[mine] < _CRUMB * area.sum())] = -1
    return mine, np.where(mine >= 0, side[patch], -1)


def with_walls(found: Skins, inner: Mask) -> Mask:
    """The faces of the ``inner`` skin (m,), and those of neither skin that join it: rims, holes' walls and crumbs."""
    outer = (found.part >= 0) & ~inner
    first, second = found.joints
    patch, count = _patches(first, second, found.part < 0)
    touching = np.zeros((2, count + 1))
    for here, there in ((first, second), (second, first)):
        for row, skin in enumerate((inner, outer)):
            touching[row] += np.bincount(patch[here][skin[there]] + 1, minlength=count + 1)
    joins = (touching[0] > 0) & (touching[0] >= _TOUCHING * touching.sum(axis=0))
    walls: Mask = inner | ((patch >= 0) & joins[patch + 1])
    return walls
