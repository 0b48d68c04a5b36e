"""Fills tried out on sound metal near by: which way is best for a place, and what its fill is worth.

Each trial is judged by what the others choose: whoever chose by it would believe it too much.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from ..surface.surface import Floats, Mask

LEAST = 3
_WORTH_IT = 0.8  # another way than the first must be better than it by so much: a few trials may be luck
_ROUNDING_MM = 1e-9


@dataclass(frozen=True, eq=False)
class Trials:
    """Of each trial and way, (k, w) mm: ``off``, the 95 % point of its error; ``doubt``, what the fill doubts itself
    by; ``mean``, its mean error, signed; ``foretold``, what it is off where it was not shown its own metal;
    ``own`` (w,): the same of the place itself. ``like`` (k, w): whether that metal is like the place's own."""

    off: Floats
    doubt: Floats
    mean: Floats
    foretold: Floats
    own: Floats
    like: Mask

    @property
    def enough(self) -> bool:
        """Whether there are trials enough to go by."""
        return int(self.like[:, 0].sum()) >= LEAST

    def best(self) -> int:
        """The way with the least error over all trials; the first where they can't tell."""
        return self._best(np.ones(len(self.off), dtype=bool), self.own)

    def _best(self, among: Mask, foretold: Floats) -> int:
        among = among & self.like[:, 0]
        if among.sum() < LEAST - 1:
            return 0
        error = np.sqrt(np.mean(self.off[among] ** 2, axis=0) + foretold**2)
        best = int(np.argmin(error))
        return best if error[best] < _WORTH_IT * error[0] else 0

    def _chosen(self) -> tuple[Floats, Floats, Floats]:
        """Error, doubt and mean of each trial by the way that the others choose."""
        rows = np.flatnonzero(self.like[:, 0])
        ways = [self._best(np.arange(len(self.off)) != row, self.foretold[row]) for row in rows]
        return self.off[rows, ways], self.doubt[rows, ways], self.mean[rows, ways]

    def bound_mm(self, doubt_mm: float) -> float:
        """What a fill that doubts itself by ``doubt_mm`` stays within on 95 % of a place, mm; nan for too few trials.

        Each trial's error is counted in what its fill doubts itself by, and the place's in its own, for it may be
        harder than what lies near. Of the trials' values the bound is taken that one more like them stays within
        (prediction interval of a normal sample, 95 %: Hahn & Meeker 1991, from memory); and never better than half
        of the trials were.
        """
        if not self.enough:
            return float("nan")
        off, doubt, _ = self._chosen()
        count = len(off)
        # A doubt that is small by chance would make its trial seem bad.
        share = off / np.maximum(doubt, _usual(doubt))
        bound = share.mean() + stdtrit(count - 1, 0.975) * share.std(ddof=1) * np.sqrt(1 + 1 / count)
        return max(float(bound) * doubt_mm, float(np.median(off)))

    def mean_mm(self, doubt_mm: float) -> float:
        """Standard uncertainty of what a place is off by on the whole, mm, or nan: the root mean square of what the
        trials are, widened by Student's t for so few of them, and the more where the place's fill doubts itself
        (``doubt_mm``) more than theirs did."""
        if not self.enough:
            return float("nan")
        _, doubt, mean = self._chosen()
        harder = max(1.0, doubt_mm / _usual(doubt))
        return harder * float(np.sqrt(np.mean(mean**2)) * stdtrit(len(mean), 0.975) / stdtrit(np.inf, 0.975))


def _usual(doubt: Floats) -> float:
    """The median of what trials doubt themselves by, mm; never 0."""
    return max(float(np.median(doubt)), _ROUNDING_MM)
