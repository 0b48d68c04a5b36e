"""What is chalked on a panel: around each area a ring, beside it its name and depth."""

from __future__ import annotations

import numpy as np

from ..plan import Plan
from ..surface.chains import chains, followers
from ..surface.surface import Floats, Ints, Surface
from .chalk import Stroke, chalk_height_mm, chalked, ring, strayed
from .letters import written
from .reading import depth_words
from .skin import Skin, frame, up_of

_GAP = 0.75  # from ring to words, in letter heights
_ROW = 1.5  # from line to line of words, in letter heights


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
    skin = Skin(panel, np.concatenate(rings), 8 * height)
    for k, (area, line) in enumerate(zip(areas.found, rings, strict=True)):
        dice = np.random.default_rng(1000 + k)
        drawn += _marked(skin, line, height, dice)
        text = (area.name, depth_words(area.depth_max_mm, unit))
        others = np.concatenate([*(r for j, r in enumerate(rings) if j != k), *taken, np.empty((0, 3))])
        place, right, above, box = _beside(skin, line, text, height, up, others)
        taken.append(box)
        drawn += _words(skin, text, place, right, above, height, dice)
    return drawn


def _words(
    skin: Skin, text: tuple[str, ...], place: Floats, right: Floats, up: Floats, height: float,
    dice: np.random.Generator,
) -> list[Stroke]:
    """Rows of words around the middle ``place`` (3,), slightly aslant."""
    drawn = []
    slant = dice.normal() * 0.02
    for row, words in enumerate(text):
        strokes, width = written(words)
        for stroke in strokes:
            flat = strayed(stroke * height, height, dice)
            x = flat[:, :1] - width * height / 2
            y = flat[:, 1:] + (len(text) / 2 - 1 - row) * _ROW * height + 0.2 * height + slant * x
            drawn += _marked(skin, place + x * right + y * up, height, dice)
    return drawn


def _marked(skin: Skin, points: Floats, height: float, dice: np.random.Generator) -> list[Stroke]:
    on, normals, _ = skin.laid(points)
    return chalked(on, normals, height, dice)


def _beside(
    skin: Skin, line: Floats, text: tuple[str, ...], height: float, up: Floats, others: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Where words go beside a ring: above, below, right or left, the first that lies on the panel and is free."""
    middle = line.mean(axis=0)[None]
    _, normal, _ = skin.laid(middle)
    (right,), (above,) = frame(normal, up)
    wide = max(written(words)[1] for words in text) * height / 2
    tall = _ROW * height * len(text) / 2
    x, y = (line - middle) @ right, (line - middle) @ above
    gap = _GAP * height
    centre = float(x.max() + x.min()) / 2
    ways = [
        (centre, y.max() + gap + tall), (centre, y.min() - gap - tall),
        (x.max() + gap + wide, 0.0), (x.min() - gap - wide, 0.0),
    ]
    best, least = None, np.inf
    for rank, (a, b) in enumerate(ways):
        u, v = (g.ravel()[:, None] for g in np.meshgrid(np.linspace(-wide, wide, 17), np.linspace(-tall, tall, 9)))
        box = middle + (a + u) * right + (b + v) * above
        at, _, off = skin.laid(box)
        aside = np.abs((box - at) @ right).max() + np.abs((box - at) @ above).max()  # past the panel's edge
        close = np.linalg.norm(others[:, None] - at[None], axis=2).min() if len(others) else np.inf
        cost = rank * 0.1 + 2.0 * max(0.0, aside / height - 0.1) + 3.0 * (close < 0.5 * height)
        if cost < least:
            best, least = (middle[0] + a * right + b * above, right, above, at), cost
    assert best is not None
    return best
