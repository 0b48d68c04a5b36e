"""How long and wide an area is, and which areas touch."""

from __future__ import annotations

import numpy as np
from trimesh.bounds import oriented_bounds_2D

from ..surface.surface import Mask, Surface
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
    _, sides = oriented_bounds_2D(  # type: ignore[no-untyped-call]
        (points - points.mean(axis=0)) @ flat.T
    )
    return float(max(sides)), float(min(sides))


def lows_beside(panel: Surface, areas: Areas, place: int) -> tuple[str, ...]:
    """Names of the lows whose hem meets that of the area at ``place`` (from 1): no sound metal parts the two.

    A hem is the strip around an area where its depth still runs out.
    """
    mine = np.zeros(len(panel.vertices), dtype=bool)
    mine[panel.triangles[areas.hemmed == place]] = True
    met = set(areas.hemmed[mine[panel.triangles].any(axis=1)].tolist()) - {0, place}
    return tuple(areas.found[k - 1].name for k in sorted(met) if areas.found[k - 1].kind == "low")
