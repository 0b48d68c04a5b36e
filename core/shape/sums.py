"""Least squares by sectors of the metal, each left out in turn, for polynomials of many degrees at once."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.linalg.lapack import dposv

from ..surface.surface import Floats, Ints, Mask

_RIDGE = 1e-13


def chebyshev(uv: Floats, half: Floats, degree: int) -> tuple[Floats, Ints]:
    """Products of Chebyshev polynomials over ``uv`` (n, 2) within ±``half`` (2,), up to ``degree`` (well conditioned),
    (n, t), and the degree of each, (t,): those of lower degrees are among those of higher ones, in the same order."""
    vander = np.polynomial.chebyshev.chebvander
    u, v = (vander(uv[:, k] / half[k], degree) for k in range(2))  # type: ignore[no-untyped-call]
    pairs = [(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]
    return np.stack([u[:, i] * v[:, j] for i, j in pairs], axis=1), np.array([i + j for i, j in pairs])


def solved(square: Floats, aim: Floats) -> Floats:
    """The solution (t,) of a positive ``square`` (t, t) for ``aim`` (t,); what the data don't settle is held at 0."""
    ridge = _RIDGE * np.trace(square) / len(square) * np.eye(len(square))  # far below what the data say
    _, solution, failed = dposv(square + ridge, aim)  # Cholesky's way, without SciPy's checks at thousands of calls
    if failed:
        raise np.linalg.LinAlgError("The terms of a patch depend on one another.")
    coefficients: Floats = solution
    return coefficients


@dataclass(frozen=True, eq=False)
class Sums:
    """What every sector's points say, added up once: ``terms`` (n, t), the ``degree`` of each (t,), 0 for those that go
    with every degree; ``height`` (n,) and ``area`` (n,) of the points, the ``sector`` (n,) of each of ``sectors``; and
    how stiff the terms are held (t, t), in units of the whole area."""

    terms: Floats
    degree: Ints
    height: Floats
    area: Floats
    sector: Ints
    sectors: int
    stiffness: Floats

    @cached_property
    def _order(self) -> Ints:
        return np.argsort(self.sector, kind="stable")

    @cached_property
    def _parts(self) -> list[slice]:
        ends = np.searchsorted(self.sector[self._order], np.arange(self.sectors + 1))
        return [slice(low, high) for low, high in zip(ends[:-1], ends[1:], strict=True)]

    @cached_property
    def _sorted(self) -> tuple[Floats, Floats]:
        return self.terms[self._order], self.height[self._order]

    @cached_property
    def _said(self) -> tuple[Floats, Floats]:
        (terms, height), area = self._sorted, self.area[self._order]
        weighted = terms * area[:, None]
        return (np.array([terms[part].T @ weighted[part] for part in self._parts]),
                np.array([weighted[part].T @ height[part] for part in self._parts]))

    def of(self, some: Mask) -> Sums:
        """The same of ``some`` (n,) of the points alone."""
        rows = np.flatnonzero(some)
        return replace(self, terms=self.terms[rows], height=self.height[rows], area=self.area[rows],
                       sector=self.sector[rows])

    def taken(self, degree: int) -> Mask:
        """Which terms (t,) a polynomial of that ``degree`` has."""
        return self.degree <= degree

    def foretelling(self, degree: int) -> tuple[Floats, Floats]:
        """Coefficients from all points of the terms ``taken``, and how far each point (n,) is off what all other
        sectors make of it, mm."""
        some = np.flatnonzero(self.taken(degree))
        squares, aims = self._said[0][:, some[:, None], some], self._said[1][:, some]
        square, aim = squares.sum(axis=0) + self.stiffness[some[:, None], some] * self.area.sum(), aims.sum(axis=0)
        terms, height = self._sorted
        terms = terms if len(some) == terms.shape[1] else terms[:, some]
        off = np.empty(len(height))
        for k, part in enumerate(self._parts):
            off[self._order[part]] = height[part] - terms[part] @ solved(square - squares[k], aim - aims[k])
        return solved(square, aim), off
