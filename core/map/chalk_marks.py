"""What is chalked on a panel: around each area a ring, beside it its name and depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..planning.plan import Plan
from ..report.depth_probe import depth_words
from ..surface.chains import chains, followers
from ..surface.surface import Floats, Ints, Surface
from ..surface.surface import normalised as unit_rows
from .chalk import Stroke, chalk_height_mm, chalked, ring, strayed
from .letters import written
from .skin import Skin, frame, up_of

_REACH = 0.6  # how far the surface may lie from where words were set out flat, in letter heights
_GAP = 0.75  # from ring to words, in letter heights
_AROUND = 0.4  # of metal that words want around them, in letter heights: a hole's or panel's edge would cut into them
_FURTHER = (0.0, 1.6)  # how much further out places are looked for, in letter heights
_ROW = 1.5  # from line to line of words, in letter heights


@dataclass(frozen=True, eq=False)
class _Place:
    """A place for words: its ``rank`` in the order of liking, its middle, what is right and up there, and a ``box`` of
    points (k, 3) over all that the words take up."""

    rank: int
    middle: Floats
    right: Floats
    up: Floats
    box: Floats


def outline(panel: Surface, label: Ints, place: int) -> Ints:
    """Rows (k,) of the longest closed line around the triangles with a corner in area ``place`` of ``label`` (n,)."""
    triangles = panel.triangles[(label[panel.triangles] == place).any(axis=1)]
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    n = np.int64(len(panel.vertices))
    alone = ~np.isin(start * n + end, end * n + start)
    start, end = start[alone], end[alone]
    found = chains(followers(start, end))
    step = np.linalg.norm(panel.vertices[end] - panel.vertices[start], axis=1)
    length = np.bincount(found.chain, step)
    rows: Ints = start[found.order[found.chain[found.order] == int(np.argmax(length))]]
    return rows


def chalk_marks(plan: Plan, unit: str) -> list[Stroke]:
    """Rings and words for all areas of ``plan``, mm about the panel's origin, on the panel's surface."""
    panel, areas = plan.panel.surface, plan.survey.areas
    height, up = chalk_height_mm(panel.diagonal), up_of(panel.area_vectors)
    drawn: list[Stroke] = []
    taken: list[Floats] = []
    loops = [outline(panel, areas.label, k) for k in range(1, len(areas.found) + 1)]
    rings = [ring(panel.vertices[rows], panel.vertex_normals[rows], height, np.random.default_rng(k))
             for k, rows in enumerate(loops)]
    if not rings:
        return []
    texts = [(area.name, depth_words(area.depth_max_mm, unit)) for area in areas.found]
    normals = [unit_rows(panel.vertex_normals[rows].sum(axis=0)[None]) for rows in loops]
    places = [_places(*each, height, up) for each in zip(rings, normals, texts, strict=True)]
    boxes = [place.box for around in places for place in around]
    skin = Skin(panel, np.concatenate([*rings, *boxes]), _REACH * height)
    for k, (line, text) in enumerate(zip(rings, texts, strict=True)):
        rng = np.random.default_rng(1000 + k)
        drawn += _marked(skin, line, height, rng)
        others = np.concatenate([*(r for j, r in enumerate(rings) if j != k), *taken, np.empty((0, 3))])
        place = min(places[k], key=lambda place: _cost(skin, place, others, height))
        taken.append(place.box)
        drawn += _words(skin, text, place, height, rng)
    return drawn


def _words(
    skin: Skin, text: tuple[str, ...], place: _Place, height: float, rng: np.random.Generator
) -> list[Stroke]:
    """Rows of words, slightly aslant."""
    drawn = []
    slant = rng.normal() * 0.02
    for row, words in enumerate(text):
        strokes, width = written(words)
        for stroke in strokes:
            flat = strayed(stroke * height, height, rng)
            x = flat[:, :1] - width * height / 2
            y = flat[:, 1:] + (len(text) / 2 - 1 - row) * _ROW * height + 0.2 * height + slant * x
            drawn += _marked(skin, place.middle + x * place.right + y * place.up, height, rng)
    return drawn


def _marked(skin: Skin, points: Floats, height: float, rng: np.random.Generator) -> list[Stroke]:
    on, normals, _ = skin.laid(points)
    return chalked(on, normals, height, rng)


def _places(line: Floats, normal: Floats, text: tuple[str, ...], height: float, up: Floats) -> list[_Place]:
    """Where words may go beside a ring: above, below, right or left of it, at its corners, and further out."""
    middle = line.mean(axis=0)
    (right,), (above,) = frame(normal, up)
    wide = max(written(words)[1] for words in text) * height / 2
    tall = _ROW * height * len(text) / 2
    x, y = (line - middle) @ right, (line - middle) @ above
    gap, centre = _GAP * height, float(x.max() + x.min()) / 2
    ways = []
    for further in _FURTHER:
        out = gap + further * height
        over, under = y.max() + out + tall, y.min() - out - tall
        beside, before = x.max() + out + wide, x.min() - out - wide
        ways += [(centre, over), (centre, under), (beside, 0.0), (before, 0.0),
                 (beside, over), (before, over), (beside, under), (before, under)]
    room_x, room_y = wide + _AROUND * height, tall + _AROUND * height
    u, v = (g.ravel()[:, None] for g in np.meshgrid(np.linspace(-room_x, room_x, 17), np.linspace(-room_y, room_y, 9)))
    return [
        _Place(rank, middle + a * right + b * above, right, above, middle + (a + u) * right + (b + v) * above)
        for rank, (a, b) in enumerate(ways)
    ]


def _cost(skin: Skin, place: _Place, others: Floats, height: float) -> float:
    """How ill a place suits: past the panel's edge or over a hole, on another's chalk, or low in the order."""
    at, _, _ = skin.laid(place.box)
    away = place.box - at
    aside = np.abs(away @ place.right).max() + np.abs(away @ place.up).max()
    close = np.linalg.norm(others[:, None] - at[None], axis=2).min() if len(others) else np.inf
    return float(0.1 * place.rank + 2.0 * max(0.0, aside / height - 0.1) + 3.0 * (close < 0.5 * height))
