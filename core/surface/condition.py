"""What is wrong with a scan, and the mending of what can be mended safely."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from ..errors import InputError
from .features import Loop, rims
from .layers import check_single, layers_merged
from .pieces import Split, branches_parted, pieces
from .seams import seams_closed
from .slivers import without_duplicates, without_slivers
from .surface import Surface
from .thin import thin
from .weld import along_curve, welded
from .windings import closed_outward, consistent

SPECK_SHARE = 0.001  # a piece below this share of the whole ...
SPECK_MM2 = 100.0  # ... and below this area is a speck
MOST_SPECKS = 0.1  # more than this share in specks is no dirt: the scan hangs nowhere together


@dataclass(frozen=True, eq=False)
class Condition:
    """The state of a scan: counts and sizes after mending, what was found and mended, lengths in mm, areas in mm2.

    ``degenerate``, ``duplicates``, ``windings_mended``: triangles; ``non_manifold_edges``: edges where more
    than two triangles met; ``thinned_from``: triangles before thinning, or None; ``notes``: the same in words.
    """

    vertices: int
    triangles: int
    area_mm2: float
    mean_edge_mm: float
    longest_edge_mm: float
    pieces: int
    rims: tuple[Loop, ...]
    holes: tuple[Loop, ...]
    degenerate: int
    duplicates: int
    non_manifold_edges: int
    windings_mended: int
    turned_inside_out: bool
    specks: int
    specks_area_mm2: float
    layers_mended_area_mm2: float
    thinned_from: int | None
    notes: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """The condition for JSON; of each loop its length, number of points and circle."""
        told = {name: value for name, value in self.__dict__.items() if name not in ("rims", "holes")}
        told["notes"] = list(self.notes)
        told["rims"] = [_loop_as_dict(loop) for loop in self.rims]
        told["holes"] = [_loop_as_dict(loop) for loop in self.holes]
        return told


@dataclass(frozen=True)
class _Found:
    degenerate: int
    duplicates: int
    non_manifold_edges: int
    windings_mended: int
    turned_inside_out: bool
    specks: int
    specks_area_mm2: float
    layers_mended_area_mm2: float
    thinned_from: int | None


def mend(surface: Surface, name: str) -> tuple[Surface, Condition]:
    """The surface welded, cleaned and ordered, and its condition; ``row_of_input`` leads back to what came.

    Mended: points at one place, seams that rounding opened, triangles without area or there twice, edges of more than
    two triangles, windings within a piece, specks, layers within 0.3 mm, more than 20 million triangles.
    Raises InputError, one sentence that starts with ``name``, for what can't be mended.

    >>> v = np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 0], [2, 0, 0]])
    >>> sheet, condition = mend(Surface(v, np.array([[0, 1, 2], [4, 3, 2], [4, 2, 3]])), "panel")
    >>> len(sheet.vertices), sheet.area, condition.pieces, condition.notes
    (4, 4.0, 1, ('1 triangle that was there twice dropped',))
    >>> mend(Surface(v, np.array([[0, 1, 2]])), "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: it is a single triangle; a sheet of many triangles is wanted: export the whole mesh
    """
    came = len(surface.triangles)
    _check_count(surface, name)
    surface = thin(surface)
    thinned_from = came if len(surface.triangles) < came else None
    surface = along_curve(welded(surface))
    surface, degenerate = without_slivers(surface, name)
    surface, duplicates = without_duplicates(surface)
    surface, branching = branches_parted(seams_closed(_only_used(surface)))
    surface, turned = consistent(surface, name)
    split = pieces(surface)
    surface, specks, specks_area = _without_specks(surface, split, name)
    surface, layers_area = layers_merged(surface, split := _again(split, surface))
    check_single(surface, name)
    _check_count(surface, name)
    loops = rims(surface, split := _again(split, surface))
    surface, inside_out = (surface, False) if loops else closed_outward(surface)
    found = _Found(
        degenerate, duplicates, branching, turned, inside_out, specks, specks_area, layers_area, thinned_from
    )
    return surface, _condition(surface, found, loops, len(split[1]))


def _again(split: Split, surface: Surface) -> Split:
    """The pieces as they were where no triangle has gone, else split anew."""
    return split if len(split[0]) == len(surface.triangles) else pieces(surface)


def _check_count(surface: Surface, name: str) -> None:
    if len(surface.triangles) == 1:
        raise InputError(
            f"{name}: it is a single triangle; a sheet of many triangles is wanted: export the whole mesh"
        )


def _only_used(surface: Surface) -> Surface:
    """The surface without points that no triangle uses."""
    used = np.zeros(len(surface.vertices), dtype=bool)
    used[surface.triangles] = True
    return surface if used.all() else surface.part(np.ones(len(surface.triangles), dtype=bool))


def _without_specks(surface: Surface, split: Split, name: str) -> tuple[Surface, int, float]:
    """The surface without specks, how many there were and their area, mm2."""
    piece, area = split
    speck = (area < SPECK_SHARE * area.sum()) & (area < SPECK_MM2)
    if not speck.any():
        return surface, 0, 0.0
    lost = float(area[speck].sum())
    if lost > MOST_SPECKS * area.sum():
        raise InputError(
            f"{name}: {lost / area.sum():.0%} of it lies in {int(speck.sum())} loose scraps that share no points; "
            "join the scan into one surface first"
        )
    return surface.part(~speck[piece]), int(speck.sum()), lost


def _condition(surface: Surface, found: _Found, loops: tuple[Loop, ...], parts: int) -> Condition:
    return Condition(
        vertices=len(surface.vertices),
        triangles=len(surface.triangles),
        area_mm2=surface.area,
        mean_edge_mm=surface.mean_edge,
        longest_edge_mm=float(surface.longest_sides.max()),
        pieces=parts,
        rims=tuple(loop for loop in loops if loop.kind == "rim"),
        holes=tuple(loop for loop in loops if loop.kind == "hole"),
        notes=_notes(found, len(surface.triangles)),
        **asdict(found),
    )


def _notes(found: _Found, left: int) -> tuple[str, ...]:
    """What was mended, in plain sentences."""
    notes = []
    if found.thinned_from:
        notes.append(f"thinned from {_some(found.thinned_from, 'triangle')} to {left}; finer detail is lost")
    if found.degenerate:
        notes.append(f"{_some(found.degenerate, 'triangle')} without area dropped")
    if found.duplicates:
        notes.append(f"{_some(found.duplicates, 'triangle')} that {_was(found.duplicates)} there twice dropped")
    if found.non_manifold_edges:
        notes.append(f"{_some(found.non_manifold_edges, 'edge')} shared by more than two triangles parted")
    if found.windings_mended:
        notes.append(f"{_some(found.windings_mended, 'triangle')} turned over to agree with the neighbours")
    if found.turned_inside_out:
        notes.append("the closed shape was inside out and was turned")
    if found.specks:
        notes.append(f"{_some(found.specks, 'speck')} of {found.specks_area_mm2 / 100:.2f} cm² in all removed")
    if found.layers_mended_area_mm2:
        notes.append(
            f"{found.layers_mended_area_mm2 / 100:.2f} cm² of scan layers lying within 0.3 mm on others "
            "removed, so that nothing is counted twice"
        )
    return tuple(notes)


def _some(count: int, what: str) -> str:
    return f"1 {what}" if count == 1 else f"{count:,} {what}s".replace(",", " ")


def _was(count: int) -> str:
    return "was" if count == 1 else "were"


def _loop_as_dict(loop: Loop) -> dict[str, Any]:
    circle = loop.circle
    return {
        "piece": loop.piece,
        "length_mm": loop.length_mm,
        "points": len(loop.vertices),
        "circle": None if circle is None else {
            "centre": circle.centre.tolist(),
            "normal": circle.normal.tolist(),
            "diameter_mm": circle.diameter_mm,
            "misfit_mm": circle.misfit_mm,
        },
    }
