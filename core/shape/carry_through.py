"""Carry Through: the sound metal around a damaged place continued through it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse.csgraph import connected_components

from ..depth.shape_trust import ShapeTrust
from ..errors import InputError
from ..progress import Progress, report_progress, silent
from ..surface.surface import Floats, Mask, Surface, dot
from .damaged_place import Place
from .trying import best_filled


@dataclass(frozen=True, eq=False)
class Carried:
    """A panel with its masked places carried through.

    ``surface``: the panel with the masked vertices moved; ``moved_mm`` (n,): how far each rose; ``degrees``: of each
    place's patch; ``trust_mm``: what the error stays below on 95 % of a place, from the same fill tried on
    neighbouring sound metal, or nan where there is too little of it: right where that metal is like the damaged, no
    figure can know a shape that begins and ends inside the mask; ``trust`` of the vertices: each place's mean error;
    ``lines``: middles, (k, 3) mm, of the swages, style lines and creases that were continued unasked; ``middles``
    (p, 3) mm: of each place in the order of its number, also of those left as they are; ``warnings``: plain sentences.
    """

    surface: Surface
    moved_mm: Floats
    degrees: tuple[int, ...]
    trust_mm: float
    trust: ShapeTrust
    lines: tuple[Floats, ...]
    middles: Floats
    warnings: tuple[str, ...]


def carry_through(
    panel: Surface, mask: Mask, creases: tuple[Floats, ...] = (), progress: Progress = silent,
    with_lines: bool = True,
) -> Carried:
    """The finished shape of ``panel`` where ``mask`` (n,) marks the damage, island by island.

    ``creases``: lines (k, 3) mm drawn along creases that are to stay sharp; ``with_lines``: lines that enter and leave
    a place are continued through it (not where a crease is drawn). A place without enough metal around it, or
    too strongly curved to be one height over a plane, is left as it is and named in the warnings. Raises InputError
    for an empty mask, and where no place at all can be carried through.
    """
    _check_mask(panel, mask)
    islands = _islands(panel, mask)
    vertices, degrees, trusts, warnings, refused = panel.vertices.copy(), [], [], [], list[InputError]()
    lines: list[Floats] = []
    made, mean = np.zeros(len(mask), dtype=bool), np.zeros(len(mask))
    for k, island in enumerate(islands):
        report_progress(progress, k / len(islands), f"Carrying through place {k + 1} of {len(islands)}")
        try:
            place = Place.around(panel, island, mask, creases, with_lines)
        except InputError as error:
            refused.append(error)
            warnings.append(_left_out(panel, island, k + 1, error))
            continue
        place, trials = best_filled(place)
        within = place.trust_mm(trials)
        inside = place.rows[place.inside]
        vertices[inside] = place.carried()
        made[inside], mean[inside] = True, place.mean_mm(trials)
        degrees.append(place.patch.degree)
        trusts.append(within)
        lines += place.line_points()
        warnings += place.warnings(k + 1, within)
    if not degrees:
        raise refused[0]
    moved = dot(vertices - panel.vertices, panel.vertex_normals)
    surface, trust = replace(panel, vertices=vertices), ShapeTrust(made, mean)
    return Carried(surface, moved, tuple(degrees), float(np.max(trusts)), trust, tuple(lines),
                   np.array([_middle(panel, island) for island in islands]), tuple(warnings))


def _middle(panel: Surface, island: Mask) -> Floats:
    middle: Floats = np.average(panel.vertices[island], axis=0, weights=panel.vertex_areas[island] + 1e-12)
    return middle


def _left_out(panel: Surface, island: Mask, number: int, why: InputError) -> str:
    middle = _middle(panel, island) + panel.origin
    where = ", ".join(f"{v:.0f}" for v in middle)
    return (f"damaged place {number} ({panel.vertex_areas[island].sum() / 100:.1f} cm² about ({where}) mm) is left as "
            f"it is: {str(why).removeprefix('damage: ')}")


def _check_mask(panel: Surface, mask: Mask) -> None:
    if not mask.any():
        raise InputError("damage: nothing is marked as damaged; paint or select the damage first")
    if mask.all():
        raise InputError("damage: the whole panel is marked as damaged; leave the sound metal around the damage out")


def _islands(panel: Surface, mask: Mask) -> list[Mask]:
    rows = np.flatnonzero(mask)
    count, part = connected_components(panel.edge_counts[rows][:, rows], directed=False)
    islands = np.zeros((count, len(mask)), dtype=bool)
    islands[part, rows] = True
    return list(islands)
