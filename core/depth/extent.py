"""How long and wide an area is, and which areas touch."""

from __future__ import annotations

import numpy as np
from scipy.spatial import ConvexHull  # trimesh has the same, and takes a third of a second to load

from ..surface.surface import Floats, Mask, Surface
from .areas import Areas


def length_and_width_mm(panel: Surface, inside: Mask) -> tuple[float, float]:
    """Sides, mm, the longer first, of the smallest rectangle around the vertices ``inside`` (n,), along the sheet.

    Out to half-way along the edges that lead out. Flat on the area's mean plane: on a bend it is the chord.
    Source: the smallest rectangle has a side along the convex hull (Freeman & Shapira 1975, doi:10.1145/360881.360919).
    """
    edges = panel.edge_counts[np.flatnonzero(inside)].tocoo()
    rows = np.flatnonzero(inside)
    out = ~inside[edges.col]
    ends = 0.5 * (panel.vertices[rows[edges.row[out]]] + panel.vertices[edges.col[out]])
    points = np.concatenate([panel.vertices[inside], ends])
    normal = (panel.vertex_normals[inside] * panel.vertex_areas[inside, None]).sum(axis=0)
    normal /= max(float(np.linalg.norm(normal)), 1e-12)
    flat = np.linalg.svd(normal[None])[2][1:]  # two directions square to the normal
    return rectangle_mm((points - points.mean(axis=0)) @ flat.T)


def rectangle_mm(points: Floats) -> tuple[float, float]:
    """Sides, the longer first, of the smallest rectangle around ``points`` (n, 2), at least three of them not in line.

    >>> [round(side, 9) for side in rectangle_mm(np.array([[0.0, 0], [3, 3], [2, 4], [-1, 1]]))]
    [4.242640687, 1.414213562]
    """
    hull = ConvexHull(points, qhull_options="QbB")  # scaled to a box of its own first
    ends = points[hull.simplices]
    along = ends[:, 1] - ends[:, 0]
    length = np.linalg.norm(along, axis=1, keepdims=True)
    along = along[length[:, 0] > 0] / length[length[:, 0] > 0]
    corners = points[hull.vertices].T
    spans = np.ptp(along @ corners, axis=1), np.ptp(np.fliplr(along) * [-1.0, 1.0] @ corners, axis=1)
    best = int(np.argmin(spans[0] * spans[1]))
    sides = float(spans[0][best]), float(spans[1][best])
    return max(sides), min(sides)


def lows_beside(panel: Surface, areas: Areas, place: int) -> tuple[str, ...]:
    """Names of the lows whose hem meets that of the area at ``place`` (from 1): no sound metal parts the two.

    A hem is the strip around an area where its depth still runs out.
    """
    mine = np.zeros(len(panel.vertices), dtype=bool)
    mine[panel.triangles[areas.hemmed == place]] = True
    met = set(areas.hemmed[mine[panel.triangles].any(axis=1)].tolist()) - {0, place}
    return tuple(areas.found[k - 1].name for k in sorted(met) if areas.found[k - 1].kind == "low")
