"""Triangles that are none: without area, or there twice. Each is dropped without tearing the sheet open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import connected_components

from ..errors import InputError
from .surface import Ints, Mask, Surface

FLAT_OF_SIDE = 1e-6  # a triangle lower than this share of its longest side has no area ...
FLAT_OF_SIZE = 1e-7  # ... nor one lower than this share of the surface: 32-bit files round about there
_ROUNDS = 10


def without_slivers(surface: Surface, name: str) -> tuple[Surface, int]:
    """The surface without triangles that have no area, and how many there were.

    No area: two corners the same, or lower than FLAT_OF_SIDE of the longest side or FLAT_OF_SIZE of the
    surface's diagonal. Where two corners nearly touch they become one. Where one corner lies on the
    opposite side, the neighbour across that side is divided there: merely dropping it would leave a slit,
    a false hole. Raises InputError where no triangle has an area.

    >>> v = np.array([[0.0, 0, 0], [1, 0, 0], [2, 0, 0], [1, 1, 0], [1, -1, 0]])
    >>> cap = Surface(v, np.array([[0, 1, 3], [1, 2, 3], [0, 2, 1], [0, 4, 2]]))
    >>> mended, count = without_slivers(cap, "panel")
    >>> count, len(mended.triangles), mended.area
    (1, 4, 2.0)
    >>> without_slivers(Surface(v, np.array([[0, 1, 2]])), "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: none of its 1 triangles has an area; export the mesh again
    """
    flat, lowest = _flat(surface)
    count = int(flat.sum())
    if count == 0:
        return surface, 0
    if count == len(flat):
        raise InputError(f"{name}: none of its {count} triangles has an area; export the mesh again")
    surface = _needles_closed(surface, np.flatnonzero(flat), lowest)
    for _ in range(_ROUNDS):
        flat, _ = _flat(surface)
        if not flat.any():
            return surface, count
        surface = _caps_divided(surface, np.flatnonzero(flat))
    return surface.part(~_flat(surface)[0]), count


def without_duplicates(surface: Surface) -> tuple[Surface, int]:
    """The surface with each triangle once, whatever its winding, and how many were dropped.

    >>> v = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0]])
    >>> without_duplicates(Surface(v, np.array([[0, 1, 2], [2, 1, 0]])))[1]
    1
    """
    # A key that does not care about the order of the corners; equal keys are looked at closely.
    mixed = np.arange(1, len(surface.vertices) + 1, dtype=np.uint64) * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(31))) * np.uint64(0xC2B2AE3D27D4EB4F)
    mixed ^= mixed >> np.uint64(29)
    key = mixed[surface.triangles[:, 0]] + mixed[surface.triangles[:, 1]] + mixed[surface.triangles[:, 2]]
    in_order = np.sort(key)
    twice = in_order[1:][in_order[1:] == in_order[:-1]]
    if len(twice) == 0:
        return surface, 0
    suspect = np.flatnonzero(_among(key, np.unique(twice)))
    corners = np.sort(surface.triangles[suspect], axis=1)
    order = np.lexsort((corners[:, 2], corners[:, 1], corners[:, 0]))
    again = (corners[order[1:]] == corners[order[:-1]]).all(axis=1)
    keep = np.ones(len(key), dtype=bool)
    keep[suspect[order[1:][again]]] = False
    return (surface.part(keep), int(again.sum())) if again.any() else (surface, 0)


def _among(key: np.ndarray[tuple[int], np.dtype[np.uint64]], some: np.ndarray[tuple[int], np.dtype[np.uint64]]) -> Mask:
    place = np.minimum(np.searchsorted(some, key), len(some) - 1)
    found: Mask = some[place] == key
    return found


def _flat(surface: Surface) -> tuple[Mask, float]:
    """Which triangles have no area, and the height in mm below which all count as flat."""
    longest = surface.longest_sides
    lowest = FLAT_OF_SIZE * surface.diagonal
    flat: Mask = 2.0 * surface.areas <= np.maximum(FLAT_OF_SIDE * longest, lowest) * longest
    return flat, lowest


def _needles_closed(surface: Surface, flat: Ints, lowest: float) -> Surface:
    """Corners of flat triangles that nearly touch made one."""
    corners = surface.triangles[flat]
    start, end = corners.ravel(), np.roll(corners, -1, axis=1).ravel()
    gap = np.linalg.norm(surface.vertices[start] - surface.vertices[end], axis=1)
    longest = np.repeat(gap.reshape(-1, 3).max(axis=1), 3)
    close = gap <= 2 * np.maximum(lowest, FLAT_OF_SIDE * longest)
    n = len(surface.vertices)
    graph = sparse.coo_matrix((np.ones(int(close.sum())), (start[close], end[close])), shape=(n, n))
    _, label = connected_components(graph, directed=False)
    first = np.unique(label, return_index=True)[1][label]
    came = first if surface.row_of_input is None else np.where(
        surface.row_of_input >= 0, first[surface.row_of_input], -1
    )
    triangles = first[surface.triangles]
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    return replace(surface, triangles=triangles, row_of_input=came).part(whole)


def _caps_divided(surface: Surface, flat: Ints) -> Surface:
    """Flat triangles dropped, the neighbour across the long side divided at the corner that lies on it."""
    corners = surface.triangles[flat]
    sides = surface.vertices[np.roll(corners, -1, axis=1)] - surface.vertices[corners]
    slot = (sides**2).sum(axis=2).argmax(axis=1)
    row = np.arange(len(flat))
    start, end, middle = (corners[row, (slot + k) % 3] for k in range(3))
    cap, neighbour, waits = _across(surface, flat, start, end)
    keep = np.ones(len(surface.triangles), dtype=bool)
    keep[flat[~waits]] = keep[neighbour] = False
    old = surface.triangles[neighbour]
    halves = [np.where(old == away[cap][:, None], middle[cap][:, None], old) for away in (start, end)]
    triangles = np.concatenate([surface.triangles[keep], *halves])
    whole = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    return replace(surface, triangles=triangles).part(whole)


def _across(surface: Surface, flat: Ints, start: Ints, end: Ints) -> tuple[Ints, Ints, Mask]:
    """Caps (numbers in ``flat``) and the sound triangle across their long side, each once; and which caps must wait.

    A cap waits where the triangle across has no area itself, or is being divided for another cap.
    """
    n = len(surface.vertices)
    wanted = np.minimum(start, end) * n + np.maximum(start, end)
    marked = np.zeros(n, dtype=bool)
    marked[start] = marked[end] = True
    near = np.flatnonzero(marked[surface.triangles].sum(axis=1) >= 2)
    corners = surface.triangles[near]
    other = np.roll(corners, -1, axis=1)
    key = (np.minimum(corners, other) * n + np.maximum(corners, other)).ravel()
    order = np.argsort(wanted, kind="stable")
    place = np.minimum(np.searchsorted(wanted[order], key), len(order) - 1)
    hit = wanted[order][place] == key
    cap, triangle = order[place[hit]], np.repeat(near, 3)[hit]
    cap, triangle = cap[flat[cap] != triangle], triangle[flat[cap] != triangle]
    waits = np.zeros(len(flat), dtype=bool)
    waits[cap] = True
    sound = ~np.isin(triangle, flat)
    cap, triangle = cap[sound], triangle[sound]
    cap, first = np.unique(cap, return_index=True)
    triangle, first = np.unique(triangle[first], return_index=True)
    waits[cap[first]] = False
    return cap[first], triangle, waits
