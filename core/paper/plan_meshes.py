"""A plan as meshes that any mesh program reads: the coloured panel and the fill."""

from __future__ import annotations

import numpy as np
import trimesh
from trimesh.exchange.ply import export_ply
from trimesh.exchange.stl import export_stl

from ..depth.survey import Survey
from ..fill.fill_mesh import fill_mesh
from ..plan import Plan
from ..surface.surface import Surface
from .legend import Legend, colours
from .mesh_file import as_trimesh


def panel_map_ply(plan: Plan, legend: Legend) -> bytes:
    """The panel, mended, in mm, with ``depth_mm`` (nan where not judged), ``area`` and the legend's colour at each
    vertex, as binary PLY. ``area``: 0 for none, else the place in plan.json's areas, counted from 1.
    """
    depth = map_depth(plan.survey)
    mesh = as_trimesh(plan.panel.surface)
    mesh.visual = trimesh.visual.ColorVisuals(mesh, vertex_colors=colours(depth, legend))
    mesh.vertex_attributes["depth_mm"] = depth.astype(np.float32)
    mesh.vertex_attributes["area"] = plan.survey.areas.label.astype(np.int32)
    data: bytes = export_ply(mesh, vertex_normal=False)
    return data


def map_depth(found: Survey) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
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
    if not shells:
        return b"Fillwright: nothing to fill".ljust(80, b" ") + (0).to_bytes(4, "little")
    origin = plan.panel.surface.origin
    parts = [as_trimesh(Surface(shell.vertices, shell.triangles, origin)) for shell in shells]
    data: bytes = export_stl(trimesh.util.concatenate(parts))
    return data
