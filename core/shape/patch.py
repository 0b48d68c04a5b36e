"""A smooth patch of surface fitted to the sound metal around a damaged place.

A polynomial of low degree over the plane of the place, its degree chosen by how well it foretells metal
that it was not shown. Low degrees follow crown and hollow and do not hear the noise; a fill by smoothness alone
hangs on the noisy slopes at its rim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..surface.surface import Floats, Ints, Mask

LOWEST, HIGHEST = 2, 8
_SECTORS = 12
# A lower degree is taken where the best foretells no better than this share of its error.
_WORTH_IT = 0.9
_ROUNDS, _CUT_SIGMAS = 4, 4.0
_LEAST_A_TERM = 4


@dataclass(frozen=True, eq=False)
class Crease:
    """A line drawn along a crease, points (k, 2) mm in the plane of the place: the surface may bend sharply there."""

    points: Floats

    def beside(self, uv: Floats) -> tuple[Floats, Floats]:
        """Distance from the line and place along it, both (n,) mm."""
        step = np.diff(self.points, axis=0)
        length = np.linalg.norm(step, axis=1)
        real = length > 0  # a point given twice makes no step
        start, step, length = self.points[:-1][real], step[real], length[real]
        begun = np.concatenate([[0.0], np.cumsum(length)[:-1]])
        best, along = np.full(len(uv), np.inf), np.zeros(len(uv))
        for k in range(len(start)):
            free = (uv - start[k]) @ step[k] / length[k] ** 2
            # The line runs on beyond its ends, so that it parts the whole place.
            share = np.clip(free, 0.0 if k else -np.inf, 1.0 if k + 1 < len(start) else np.inf)
            distance = np.linalg.norm(uv - start[k] - share[:, None] * step[k], axis=1)
            nearer = distance < best
            best[nearer], along[nearer] = distance[nearer], (begun[k] + share * length[k])[nearer]
        return best, along


@dataclass(frozen=True, eq=False)
class Patch:
    """A fitted patch: height over the plane. ``foretold_mm``: root mean square error on metal that it was not shown;
    ``stiffer``: the patch of the next degree, or None where there are too few points for one."""

    degree: int
    half_mm: Floats
    coefficients: Floats
    creases: tuple[Crease, ...]
    foretold_mm: float
    stiffer: Patch | None = None

    def height(self, uv: Floats) -> Floats:
        """Height at ``uv`` (n, 2) mm in the plane, (n,) mm."""
        height: Floats = _terms(uv, self.half_mm, self.degree, self.creases) @ self.coefficients
        return height

    def doubt_mm(self, uv: Floats) -> float:
        """What the patch itself may be off at ``uv`` (n, 2) mm, as far as its own metal tells, mm.

        What it was off where it was not shown the metal, and how far it lies from the next degree's patch: beyond
        its metal's reach the two part first where something is left out.
        """
        if self.stiffer is None:
            return self.foretold_mm
        apart = np.abs(self.height(uv) - self.stiffer.height(uv))
        return float(np.hypot(self.foretold_mm, np.percentile(apart, 95)))


def fit_patch(
    uv: Floats, height_mm: Floats, area_mm2: Floats, creases: tuple[Crease, ...] = (), most: int = HIGHEST,
    least: int = LOWEST,
) -> tuple[Patch, Mask]:
    """The patch through sound metal at ``uv`` (n, 2) of ``height_mm`` (n,), and which of it the patch believed, (n,).

    ``area_mm2`` (n,): what each point stands for; ``least`` and ``most``: the degrees to try. Points that stay far off
    (other damage) are left out again.
    """
    half = np.abs(uv).max(axis=0)
    sector = _sectors(uv)
    believed = np.ones(len(uv), dtype=bool)
    patch = _best(uv, height_mm, area_mm2, half, sector, creases, least, most)
    for _ in range(_ROUNDS):
        off = np.abs(height_mm - patch.height(uv))
        now = off <= _CUT_SIGMAS * max(1.4826 * float(np.median(off)), 1e-9)
        if (now == believed).all():
            break
        believed = now
        patch = _best(uv[now], height_mm[now], area_mm2[now], half, sector[now], creases, least, most)
    return patch, believed


def _sectors(uv: Floats) -> Ints:
    """Which of equally large sectors around the middle each point lies in: what is left out in turn."""
    turn = np.arctan2(uv[:, 1], uv[:, 0])
    place = np.empty(len(turn), dtype=np.int64)
    place[np.argsort(turn)] = np.arange(len(turn)) * _SECTORS // len(turn)
    return place


def _best(
    uv: Floats, height: Floats, area: Floats, half: Floats, sector: Ints, creases: tuple[Crease, ...], least: int,
    most: int,
) -> Patch:
    """The patch of the lowest degree that foretells left-out sectors nearly as well as the best does, with the next."""

    def of(degree: int) -> Patch | None:
        terms = _terms(uv, half, degree, creases)
        if degree > least and terms.shape[1] * _LEAST_A_TERM > len(uv):
            return None
        coefficients, foretold = _foretelling(terms, height, area, sector)
        return Patch(degree, half, coefficients, creases, foretold)

    tried = [patch for degree in range(least, most + 1) if (patch := of(degree)) is not None]
    best = min(patch.foretold_mm for patch in tried)
    k = next(k for k, patch in enumerate(tried) if _WORTH_IT * patch.foretold_mm <= best)
    return replace(tried[k], stiffer=tried[k + 1] if k + 1 < len(tried) else of(tried[k].degree + 1))


def _foretelling(terms: Floats, height: Floats, area: Floats, sector: Ints) -> tuple[Floats, float]:
    """Coefficients from all points, and the root mean square error on each sector from all others."""
    weighted = terms * area[:, None]
    parts = [sector == k for k in range(_SECTORS)]
    squares = np.array([terms[p].T @ weighted[p] for p in parts])
    aims = np.array([weighted[p].T @ height[p] for p in parts])
    square, aim = squares.sum(axis=0), aims.sum(axis=0)
    error = 0.0
    for k, part in enumerate(parts):
        without = _solved(square - squares[k], aim - aims[k])
        error += float(area[part] @ (height[part] - terms[part] @ without) ** 2)
    return _solved(square, aim), float(np.sqrt(error / area.sum()))


def _solved(square: Floats, aim: Floats) -> Floats:
    solution: Floats = np.linalg.lstsq(square, aim, rcond=1e-12)[0]
    return solution


def _terms(uv: Floats, half: Floats, degree: int, creases: tuple[Crease, ...]) -> Floats:
    """Chebyshev products up to ``degree`` (well conditioned), and for each crease terms that bend across it, (n, t)."""
    vander = np.polynomial.chebyshev.chebvander
    u, v = (vander(uv[:, k] / half[k], degree) for k in range(2))  # type: ignore[no-untyped-call]
    terms = [u[:, i] * v[:, j] for i in range(degree + 1) for j in range(degree + 1 - i)]
    for crease in creases:
        beside, along = crease.beside(uv)
        size = float(np.linalg.norm(half))
        kink, t = beside / size, 2 * along / size - 1
        terms += [kink, kink * t, kink * t * t, kink * kink * np.sign(_side(crease, uv))]
    return np.stack(terms, axis=1)


def _side(crease: Crease, uv: Floats) -> Floats:
    """Left or right of the crease's own direction from end to end, (n,)."""
    way = crease.points[-1] - crease.points[0]
    off = uv - crease.points[0]
    side: Floats = way[0] * off[:, 1] - way[1] * off[:, 0]
    return side
