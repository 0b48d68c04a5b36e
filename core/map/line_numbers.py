"""Where numbers stand on contour lines, and the lines broken to make room for them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..surface.surface import Floats, Ints, normalised
from .chalk import evenly, runs

_PAD = 0.45  # free room around a number, in its heights
_CANDIDATES = 48  # places looked at on one line
_APART = 3.0  # from number to number, in widths
_SHARES = (1.0, 0.75, 0.55)  # of the usual height that are tried, until a number is smaller than the bands beside it
_ROOM = 0.8  # from a number's middle to the next line, at least, in its heights
_ONWARD = 8  # quarters of a height along a line that are the number's own place still
_STRAIGHT = 0.93  # of the line under a number, end to end over along
_LEAST_PART = 1.2  # a shorter piece of line between two numbers is left out, in heights


@dataclass(frozen=True, eq=False)
class Spot:
    """A place for a number: its middle (3,), the direction that it is read in (3,), and the room that it takes."""

    line: int
    place: Floats
    along: Floats
    width: float
    height: float


def spots(lines: list[Floats], widths: list[float], height: float, right: Floats) -> tuple[Spot, ...]:
    """A place for a number ``widths`` wide and ``height`` high on each of the ``lines`` (k, 3) where there is room.

    A line shorter than three numbers gets none. Chosen is where the other lines are far and the line runs along
    ``right`` (3,), so that the number stands upright; the longest line chooses first. A number is made smaller, down to
    about a half, where it would touch other lines, and left out where that does not help or the line bends too much.
    """
    length = [float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) for line in lines]
    coarse = [evenly(line, height / 2) if len(line) > 1 else line for line in lines]
    found: list[Spot] = []
    for k in sorted(range(len(lines)), key=lambda k: -length[k]):
        others = np.concatenate([np.empty((0, 3)), *(line for j, line in enumerate(coarse) if j != k)])
        for share in _SHARES:
            width = share * widths[k]
            if length[k] < 3 * width:
                continue
            spot = _best(k, lines[k], others, width, share * height, right, found)
            if spot is not None:
                found.append(spot)
                break
    return tuple(found)


def broken(line: Floats, taken: tuple[Spot, ...], up_of: Floats) -> list[Floats]:
    """The parts of ``line`` (k, 3) outside the room of each spot in ``taken``; ``up_of`` (s, 3): what is up in each."""
    if not taken or len(line) < 2:
        return [line]
    step = min(spot.height for spot in taken) / 6
    near = np.zeros(len(line), dtype=bool)
    for spot in taken:
        near |= np.linalg.norm(line - spot.place, axis=1) < spot.width + 2 * spot.height
    if not near.any():
        return [line]
    fine = evenly(line, step)
    free = np.ones(len(fine), dtype=bool)
    for spot, up in zip(taken, up_of, strict=True):
        away = fine - spot.place
        x, y = np.abs(away @ spot.along), np.abs(away @ up)
        z = np.abs(away @ np.cross(spot.along, up))
        free &= (x > spot.width / 2 + _PAD * spot.height) | (y > (0.5 + _PAD / 2) * spot.height) | (z > spot.height)
    least = max(2, int(_LEAST_PART * min(spot.height for spot in taken) / step))
    return [fine[a:b] for a, b in runs(free) if b - a >= least]


def _best(
    k: int, line: Floats, others: Floats, width: float, height: float, right: Floats, found: list[Spot]
) -> Spot | None:
    fine = evenly(line, height / 4)
    reach = max(1, int(width / 2 / (height / 4)))
    if len(fine) <= 2 * reach:
        return None
    rows = np.unique(np.linspace(reach, len(fine) - 1 - reach, _CANDIDATES).astype(np.int64))
    chord = fine[rows + reach] - fine[rows - reach]
    straight = np.linalg.norm(chord, axis=1) / (2 * reach * height / 4)
    along = normalised(chord)
    room = np.full(len(rows), np.inf)
    if len(others):
        room = np.linalg.norm(fine[rows][:, None] - others[None], axis=2).min(axis=1)
    room = np.minimum(room, _to_itself(fine, rows, max(2 * reach, _ONWARD)))
    level = np.abs(along @ right)
    score = np.minimum(room / height, 1.5) + 1.6 * level**2 + 1.5 * np.minimum(straight, 1.0)
    score[(room < _ROOM * height) | (straight < _STRAIGHT)] = -np.inf
    for spot in found:
        gap = np.linalg.norm(fine[rows] - spot.place, axis=1)
        score = np.where(gap < 0.5 * (spot.width + width) + 1.2 * height, -np.inf, score)
        score -= 0.6 * (gap < _APART * width)
    best = int(np.argmax(score))
    if not np.isfinite(score[best]):
        return None
    forward = along[best] * (1.0 if along[best] @ right >= 0 else -1.0)
    return Spot(k, fine[rows[best]], forward, width, height)


def _to_itself(fine: Floats, rows: Ints, apart: int) -> Floats:
    """From each of ``rows`` of an even line to where it runs by itself again: to points more than ``apart`` further
    along."""
    away = np.linalg.norm(fine[rows][:, None] - fine[None], axis=2)
    along = np.abs(rows[:, None] - np.arange(len(fine))[None])
    if np.linalg.norm(fine[0] - fine[-1]) < 1e-9:
        along = np.minimum(along, len(fine) - 1 - along)
    nearest: Floats = np.where(along > apart, away, np.inf).min(axis=1)
    return nearest
