"""The ways of filling a damaged place tried on sound metal near by, and the best of them taken."""

from __future__ import annotations

import numpy as np

from .damaged_place import Place
from .footprint import Footprint, clear
from .patch import sample
from .trials import Trials
from .ways import INSIDE, Way, untried, ways

_AROUND, _AROUND_AT_RIM = 8, 16  # at a rim half of them or more lie beyond it
_UNLIKE, _UNLIKE_MM = 2.5, 0.03
_UNLIKE_LINED_MM = 0.2  # sectors without a line foretell those with it badly, and the metal is the same


def best_filled(place: Place) -> tuple[Place, Trials]:
    """The ``place`` filled in the way that does best on sound metal near by, and how the ways did there."""
    every = ways(place.at_rim, bool(place.creases), bool(place.lines))
    trials = _trials(place, every)
    if trials.enough:
        return place.filled(every[trials.best()]), trials
    foretold = place.filled(INSIDE[0]).patch.foretold_mm
    return place.filled(untried(place.at_rim, bool(place.lines), foretold)), trials


def _trials(place: Place, every: tuple[Way, ...]) -> Trials:
    count = _AROUND_AT_RIM if place.at_rim else _AROUND
    turns = [2 * np.pi * k / count for k in range(count)]
    turns += [line.turn + back for line in place.lines for back in (0.0, np.pi)]  # there the lines are tried, too
    found = [trial for turn in turns if (trial := _trial(place, turn, every)) is not None]
    own = np.array([place.filled(way).patch.foretold_mm for way in every])
    off, doubt, mean, foretold = np.moveaxis(np.array(found).reshape(-1, len(every), 4), 2, 0)
    # Other metal than this place's: a pocket, a crease, more damage.
    like = foretold <= _UNLIKE * np.maximum(own, _UNLIKE_LINED_MM if place.lines else _UNLIKE_MM)
    return Trials(off, doubt, mean, foretold, own, like)


def _trial(place: Place, turn: float, every: tuple[Way, ...]) -> list[list[float]] | None:
    """Fills of the place's own outline moved aside: of each way the 95 % point of its error, what it doubts itself by,
    its mean error, and what it was off where it was not shown the metal, all mm; None where metal lacks."""
    uv, height, edge = place.uv, place.height, place.panel.mean_edge
    moved = uv - clear(uv[place.inside], turn, 3 * edge)
    trial = Footprint.of(uv[place.inside], 1.5 * edge).holds(moved) & ~place.damaged
    # The place's own ring, moved along: at a rim or beside other damage it is open to the same side.
    ring = Footprint.of(uv[place.ring], 1.5 * edge).holds(moved) & ~trial & ~place.damaged
    if trial.sum() < 0.8 * place.inside.sum() or ring.sum() < 0.6 * place.ring.sum():
        return None
    areas = place.panel.vertex_areas[place.rows]
    rows = np.flatnonzero(trial)
    rows = rows[sample(len(rows))]
    figures = []
    for way in every:
        patch, _ = way.fill(uv[ring], height[ring], areas[ring], place.creases, place.lines)
        off = height[rows] - patch.height(uv[rows])
        figures.append([float(np.percentile(np.abs(off), 95)), way.doubt_mm(patch, uv[rows]),
                        float(np.average(off, weights=areas[rows])), patch.foretold_mm])
    return figures
