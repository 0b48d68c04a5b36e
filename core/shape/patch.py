"""A smooth patch of surface fitted to the sound metal around a damaged place.

A polynomial of low degree over the plane of the place, its degree chosen by how well it foretells metal
that it was not shown. Low degrees follow crown and hollow and do not hear the noise; a fill by smoothness alone
hangs on the noisy slopes at its rim.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from scipy.linalg import block_diag

from ..surface.surface import Floats, Ints, Mask
from .sums import Sums, chebyshev, solved

LOWEST, HIGHEST = 2, 8
_SECTORS = 12
_ROUNDS, _CUT_SIGMAS = 4, 4.0
_LEAST_A_TERM = 4
_ENOUGH = 20_000  # points for a fit of 50 terms or 100


class Feature(Protocol):
    """What no polynomial can follow: further terms of a patch, (n, t), and how stiff they are held, (t, t)."""

    def terms(self, uv: Floats, size_mm: float) -> Floats: ...

    def stiffness(self) -> Floats: ...


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

    def terms(self, uv: Floats, size_mm: float) -> Floats:
        """Terms that bend across the line, (n, 4); ``size_mm`` of the place."""
        beside, along = self.beside(uv)
        kink, t = beside / size_mm, 2 * along / size_mm - 1
        return np.stack([kink, kink * t, kink * t * t, kink * kink * np.sign(self._side(uv))], axis=1)

    def stiffness(self) -> Floats:
        """None."""
        return np.zeros((4, 4))

    def _side(self, uv: Floats) -> Floats:
        """Left or right of the line's own direction from end to end, (n,)."""
        way = self.points[-1] - self.points[0]
        off = uv - self.points[0]
        side: Floats = way[0] * off[:, 1] - way[1] * off[:, 0]
        return side


@dataclass(frozen=True, eq=False)
class Patch:
    """A fitted patch: height over the plane. ``foretold_mm``: root mean square error on metal that it was not shown;
    ``stiffer``: the patch of the next degree, or None where there are too few points for one."""

    degree: int
    half_mm: Floats
    coefficients: Floats
    features: tuple[Feature, ...]
    foretold_mm: float
    stiffer: Patch | None = None

    def height(self, uv: Floats) -> Floats:
        """Height at ``uv`` (n, 2) mm in the plane, (n,) mm."""
        height: Floats = _terms(uv, self.half_mm, self.degree, self.features) @ self.coefficients
        return height

    def profiles(self) -> list[Floats]:
        """Of each feature its coefficients, (t,)."""
        counts = [len(each.stiffness()) for each in self.features]
        ends = np.cumsum([len(self.coefficients) - sum(counts), *counts])
        return [self.coefficients[low:high] for low, high in zip(ends[:-1], ends[1:], strict=True)]

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
    uv: Floats, height_mm: Floats, area_mm2: Floats, features: tuple[Feature, ...] = (), most: int = HIGHEST,
    least: int = LOWEST, true_mm: float = 0.0,
) -> tuple[Patch, Mask]:
    """The patch through sound metal at ``uv`` (n, 2) of ``height_mm`` (n,), and which of it the patch believed, (n,).

    ``area_mm2`` (n,): what each point stands for; ``least`` and ``most``: the degrees to try. Points that stay far off
    (other damage) are left out again, but none that is within ``true_mm``.
    """
    some = sample(len(uv), _ENOUGH)
    seen, seen_mm = uv[some], height_mm[some]
    metal = _Metal.over(seen, seen_mm, area_mm2[some], np.abs(uv).max(axis=0), features, most + 1)
    believed, cut = np.ones(len(seen), dtype=bool), np.inf
    patch = metal.best(least, most)
    for _ in range(_ROUNDS):
        off = np.abs(seen_mm - patch.height(seen))
        cut = max(_CUT_SIGMAS * 1.4826 * float(np.median(off)), true_mm, 1e-9)
        if ((off <= cut) == believed).all():
            break
        believed = off <= cut
        patch = metal.of(believed).best(least, most)
    return patch, believed if len(seen) == len(uv) else np.abs(height_mm - patch.height(uv)) <= cut


def sample(count: int, most: int = 1500) -> slice:
    """Every so many of ``count`` rows, so that there are at most ``most``: more tell no more."""
    return slice(None, None, int(np.ceil(count / most)) if count else 1)


def plain_patch(uv: Floats, height_mm: Floats, area_mm2: Floats, features: tuple[Feature, ...], degree: int) -> Patch:
    """The patch of that ``degree`` through all points, other damage and all; as `fit_patch` else."""
    return _Metal.over(uv, height_mm, area_mm2, np.abs(uv).max(axis=0), features, degree + 1).best(degree, degree)


def left_out(
    uv: Floats, height_mm: Floats, area_mm2: Floats, features: tuple[Feature, ...], degree: int
) -> Floats:
    """How far each point (n,) is off what the patch of that ``degree`` through the other sectors makes of it, mm."""
    metal = _Metal.over(uv, height_mm, area_mm2, np.abs(uv).max(axis=0), features, degree)
    return metal.sums.foretelling(degree)[1]


def left_over(uv: Floats, height_mm: Floats, area_mm2: Floats, features: tuple[Feature, ...], degree: int) -> float:
    """Mean square, mm2, that the best patch of that ``degree`` leaves over, with what holding its features costs."""
    terms = _terms(uv, np.abs(uv).max(axis=0), degree, features)
    weighted, held = terms * (area_mm2 / area_mm2.sum())[:, None], _stiffness(terms.shape[1], features)
    coefficients = solved(terms.T @ weighted + held, weighted.T @ height_mm)
    off = height_mm - terms @ coefficients
    return float(area_mm2 @ off**2 / area_mm2.sum() + coefficients @ held @ coefficients)


def _sectors(uv: Floats) -> Ints:
    """Which of equally large sectors around the middle each point lies in: what is left out in turn."""
    turn = np.arctan2(uv[:, 1], uv[:, 0])
    place = np.empty(len(turn), dtype=np.int64)
    place[np.argsort(turn)] = np.arange(len(turn)) * _SECTORS // len(turn)
    return place


@dataclass(frozen=True, eq=False)
class _Metal:
    """Sound metal, and what its sectors say of patches over ±``half`` (2,) mm with ``features``."""

    half: Floats
    features: tuple[Feature, ...]
    sums: Sums

    @classmethod
    def over(
        cls, uv: Floats, height: Floats, area: Floats, half: Floats, features: tuple[Feature, ...], highest: int
    ) -> _Metal:
        """For patches up to the ``highest`` degree."""
        terms, degrees = _every_term(uv, half, highest, features)
        stiffness = _stiffness(terms.shape[1], features)
        return cls(half, features, Sums(terms, degrees, height, area, _sectors(uv), _SECTORS, stiffness))

    def of(self, some: Mask) -> _Metal:
        """The same of ``some`` (n,) of the metal alone."""
        return replace(self, sums=self.sums.of(some))

    def best(self, least: int, most: int) -> Patch:
        """The patch of the lowest degree that left-out sectors can't tell from the one they foretell best, with the
        next.

        They can't where the difference is within its own standard error (Breiman, Friedman, Olshen & Stone 1984, from
        memory): a high degree that fits best by luck runs wild inside.
        """
        tried = [fitted for degree in range(least, most + 1) if (fitted := self._fit(degree, least)) is not None]
        best = min(tried, key=lambda each: each[0].foretold_mm)[1]

        def as_good(squares: Floats) -> bool:
            worse = squares - best
            return bool(worse.sum() <= worse.std(ddof=1) * np.sqrt(len(worse)))

        k = next(k for k, (_, squares) in enumerate(tried) if as_good(squares))
        taken = tried[k][0]
        stiffer = tried[k + 1] if k + 1 < len(tried) else self._fit(taken.degree + 1, least)
        return replace(taken, stiffer=stiffer[0] if stiffer else None)

    def _fit(self, degree: int, least: int) -> tuple[Patch, Floats] | None:
        """The patch of a ``degree``, and each sector's part of its mean square error, mm2; None from too few points."""
        sums = self.sums
        if degree > least and sums.taken(degree).sum() * _LEAST_A_TERM > len(sums.height):
            return None
        coefficients, off = sums.foretelling(degree)
        squares = np.bincount(sums.sector, sums.area * off**2, minlength=_SECTORS) / sums.area.sum()
        return Patch(degree, self.half, coefficients, self.features, float(np.sqrt(squares.sum()))), squares


def _stiffness(count: int, features: tuple[Feature, ...]) -> Floats:
    """The features' stiffness among ``count`` terms, of which theirs come last, (t, t)."""
    stiff = block_diag(*(each.stiffness() for each in features)) if features else np.zeros((0, 0))
    held = np.zeros((count, count))
    held[count - len(stiff):, count - len(stiff):] = stiff
    return held


def _terms(uv: Floats, half: Floats, degree: int, features: tuple[Feature, ...]) -> Floats:
    return _every_term(uv, half, degree, features)[0]


def _every_term(uv: Floats, half: Floats, degree: int, features: tuple[Feature, ...]) -> tuple[Floats, Ints]:
    """Polynomials up to ``degree``, and then each feature's own terms, (n, t); and their degrees, features' 0, (t,)."""
    terms, degrees = chebyshev(uv, half, degree)
    size = float(np.linalg.norm(half))
    terms = np.concatenate([terms, *(each.terms(uv, size) for each in features)], axis=1)
    return terms, np.concatenate([degrees, np.zeros(terms.shape[1] - len(degrees), dtype=degrees.dtype)])
