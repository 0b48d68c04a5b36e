"""A plan as meshes that any mesh program reads: the coloured panel and the fill."""

from __future__ import annotations

import numpy as np

from ..depth.survey import Survey
from ..files.mesh_bytes import mesh_bytes
from ..fill.fill_mesh import fill_mesh
from ..legend.legend import Legend, colours
from ..planning.plan import Plan
from ..surface.surface import Floats, Surface


def panel_map_ply(plan: Plan, legend: Legend) -> bytes:
    """The panel, mended, in mm, with ``depth_mm`` (nan where not judged), ``area`` and the legend's colour at each
    vertex, as binary PLY. ``area``: 0 for none, else the place in plan.json's areas, counted from 1.
    """
    depth = map_depth(plan.survey)
    red, green, blue = colours(depth, legend).T
    return mesh_bytes(plan.panel.surface, ".ply", {
        "red": red, "green": green, "blue": blue, "alpha": np.full_like(red, 255),
        "depth_mm": depth.astype(np.float32), "area": plan.survey.areas.label.astype(np.int32),
    })


def map_depth(found: Survey) -> Floats:
    """Depth as scanned at each vertex, (n,) mm, nan where it is not judged or not planned."""
    return np.where(found.planned & found.depth.judged, found.depth.depth_mm, np.nan)


def fill_stl(plan: Plan) -> bytes:
    """The fill, finished size, in mm: a closed shell for each low, as binary STL; no triangles where nothing is low."""
    found = plan.survey
    summed = found.areas.hemmed[found.sheets.parent]
    shells = [
        fill_mesh(found.sheets, summed == place)
        for place, area in enumerate(found.areas.found, start=1) if area.kind == "low"
    ]
    first = np.cumsum([0, *(len(shell.vertices) for shell in shells)])
    points = np.concatenate([np.empty((0, 3)), *(shell.vertices for shell in shells)])
    rows = [shell.triangles + start for shell, start in zip(shells, first, strict=False)]
    triangles = np.concatenate([np.empty((0, 3), dtype=np.int64), *rows])
    return mesh_bytes(Surface(points, triangles, plan.panel.surface.origin), ".stl")
