"""How a sheet is bent, seen at a chosen scale: its normals against its places, both spread out along it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sparse

from ..surface.surface import Floats, Surface, cross, dot, normalised

_STEPS = 3  # of spreading: one alone would keep a peak and let white noise through
_CLOSE, _ROUNDING, _MOST_ROUNDS = 3e-3, 1e-9, 300


@dataclass(frozen=True, eq=False)
class Bend:
    """The bend of a sheet at ``scale_mm``: ``tensor`` (n, 3, 3) 1/mm takes a way along the sheet to the turn of its
    normal, positive where the sheet bulges outward; its trace is twice the mean curvature.

    ``normals`` (n, 3) are unit; ``share`` (n,) is what spreading left of each vertex's area: 1 inside, towards 0 at a
    rim. The tensor's noise grows there, about as 1 / share.
    """

    scale_mm: float
    tensor: Floats
    normals: Floats
    share: Floats

    @property
    def doubled_mean(self) -> Floats:
        """Twice the mean curvature, (n,) 1/mm."""
        doubled: Floats = np.trace(self.tensor, axis1=1, axis2=2)
        return doubled


class Spreading:
    """Spreads fields along a ``sheet`` as heat would, by so many mm whatever the mesh; nothing leaves at a rim.

    >>> sheet = Surface(np.array([[0.0, 0, 0], [2, 0, 0], [0, 2, 0], [2, 2, 0]]), np.array([[0, 1, 2], [1, 3, 2]]))
    >>> Spreading(sheet).spread(np.array([[1.0], [0], [0], [0]]), 1000.0).round(3).ravel().tolist()
    [0.167, 0.167, 0.167, 0.167]
    """

    def __init__(self, sheet: Surface) -> None:
        self.sheet = sheet
        self.masses = np.maximum(sheet.vertex_areas, 1e-9)
        slopes = _slopes(*sheet.corners)
        pull = np.einsum("mij,mkj->mik", slopes, slopes) * sheet.areas[:, None, None]
        ends = np.repeat(sheet.triangles, 3, axis=1).ravel(), np.tile(sheet.triangles, (1, 3)).ravel()
        count = len(self.masses)
        self._stiffness = sparse.csr_matrix((pull.ravel(), ends), shape=(count, count))

    def spread(self, field: Floats, scale_mm: float, steps: int = 1) -> Floats:
        """``field`` (n, k) spread by a bell of standard deviation ``scale_mm``, in so many implicit steps.

        Source: heat along a surface by linear finite elements, backward Euler (from memory).
        """
        weight = scale_mm**2 / (2 * steps)
        system = (sparse.diags(self.masses) + weight * self._stiffness).tocsr()
        for _ in range(steps):
            field = field + _change(system, -weight * (self._stiffness @ field), self.masses, field)
        return field

    def normals(self) -> Floats:
        """Mean of the triangles' normals around each vertex, (n, 3), shorter than 1 where they disagree."""
        mean: Floats = self.sheet.corner_matrix @ self.sheet.area_vectors / (3 * self.masses[:, None])
        return mean

    def bends(self, scales_mm: tuple[float, ...]) -> Iterator[Bend]:
        """The bend at each of the rising ``scales_mm``, one after the other.

        Where normals change evenly, spread normals against spread places tell it exactly, up to the rim.
        """
        field, before = np.concatenate([self.sheet.vertices, self.normals()], axis=1), 0.0
        for scale in scales_mm:
            field = self.spread(field, float(np.sqrt(scale**2 - before**2)), _STEPS)
            before = scale
            yield self._bend(field[:, :3], normalised(field[:, 3:]), scale)

    def _bend(self, places: Floats, normals: Floats, scale_mm: float) -> Bend:
        sheet = self.sheet
        a, b, c = (places[sheet.triangles[:, k]] for k in range(3))
        turn = np.einsum("mka,mkb->mab", normals[sheet.triangles], _slopes(a, b, c))
        vectors = cross(b - a, c - a)
        areas = 0.5 * np.sqrt(dot(vectors, vectors))
        left = sheet.corner_matrix @ areas
        mean = sheet.corner_matrix @ (turn * areas[:, None, None]).reshape(-1, 9)
        tensor = (mean / np.maximum(left, 1e-12)[:, None]).reshape(-1, 3, 3)
        tensor = along_sheet(0.5 * (tensor + tensor.transpose(0, 2, 1)), normals)
        return Bend(scale_mm, tensor, normals, left / (3 * self.masses))


def along_sheet(tensor: Floats, normals: Floats) -> Floats:
    """The part of ``tensor`` (n, 3, 3) that lies along the sheet with unit ``normals`` (n, 3)."""
    flat = np.eye(3) - normals[:, :, None] * normals[:, None, :]
    part: Floats = flat @ tensor @ flat
    return part


def _slopes(a: Floats, b: Floats, c: Floats) -> Floats:
    """Gradients (m, 3, 3) 1/mm of the three fields that are 1 at one corner and 0 at the others; 0 without area."""
    vectors = cross(b - a, c - a)
    square = dot(vectors, vectors)
    turned = np.stack([cross(vectors, c - b), cross(vectors, a - c), cross(vectors, b - a)], axis=1)
    slopes: Floats = turned / np.where(square > 0, square, 1.0)[:, None, None]
    return slopes


def _change(system: sparse.csr_matrix, right: Floats, masses: Floats, field: Floats) -> Floats:
    """Solutions (n, k) of ``system`` = masses + something positive, all columns at once, by conjugate gradients.

    What is left over, divided by the masses, is never less than the error: it ends where that is a share of the answer.
    Source: Saad, Iterative Methods for Sparse Linear Systems, algorithm 9.1, with the diagonal (from memory).
    """
    diagonal, masses = system.diagonal()[:, None], masses[:, None]
    found, rest = np.zeros_like(right), right
    scaled = rest / diagonal
    way, size = scaled, (rest * scaled).sum(axis=0)
    nothing = _ROUNDING**2 * (masses * field * field).sum(axis=0)
    for _ in range(_MOST_ROUNDS):
        if ((rest * rest / masses).sum(axis=0) <= _CLOSE**2 * (masses * found * found).sum(axis=0) + nothing).all():
            break
        along = system @ way
        length = size / np.maximum((way * along).sum(axis=0), 1e-300)
        found, rest = found + length * way, rest - length * along
        scaled, before = rest / diagonal, size
        size = (rest * scaled).sum(axis=0)
        way = scaled + size / np.maximum(before, 1e-300) * way
    return found
