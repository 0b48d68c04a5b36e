"""A real range scan for tests, a flank of it with known dents pressed in, and other libraries' answers.

The scan is StanfordBunny.ply of pymeshfix 0.18.1 (Stanford 3D Scanning Repository), read where the package
lies and never copied. Its unit says nothing; here it is taken 4 times as large, as millimetres: 200 mm across,
1.5 mm from point to point, as a workshop scanner gives.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from pathlib import Path

import manifold3d
import numpy as np
import pyvista
import trimesh

from core.files.mesh_file import read
from core.surface.pieces import pieces
from core.surface.surface import Floats, Surface
from tests.core.shapes import cap_dent, cosine_dent

SCALE = 4.0
MIDDLE = np.array([49.93, 32.27, 53.27])  # of the flank: one layer there, no hole, no slope over 70 degrees
FLANK_MM, PANEL_MM = 45.0, 39.0  # the finished shape goes on past the panel, as it should
LOW_MM, CAP_MM, HIGH_MM = 2.0, 1.2, 0.8
HALF_WIDTHS_MM = (16.0, 12.0, 13.0)
RIPPLE_MM = 0.03


def real_scan() -> Surface:
    """The scan as its file has it, with its holes and flaps, mm."""
    found = importlib.util.find_spec("pymeshfix")
    assert found is not None
    assert found.origin is not None
    made = read(Path(found.origin).parent / "examples" / "StanfordBunny.ply", "mm", "panel").surface
    return Surface(made.vertices * SCALE, made.triangles)


@dataclass(frozen=True)
class Flank:
    """The finished shape, which way is up, the depth pressed in at its points, and the dented sheet."""

    target: Surface
    up: Floats
    pressed_mm: tuple[Floats, Floats, Floats]
    dented: Surface
    rippled: Surface


def dented_flank(sheet: Surface) -> Flank:
    """A low like a cosine, one like a cap, and a high like a cosine, along trimesh's normals."""
    target = cut_out(sheet, FLANK_MM)
    up = target.area_vectors.sum(axis=0) / np.linalg.norm(target.area_vectors.sum(axis=0))
    side = np.cross(up, [1.0, 0.0, 0.0]) / np.linalg.norm(np.cross(up, [1.0, 0.0, 0.0]))
    x, y = (target.vertices - MIDDLE) @ side, (target.vertices - MIDDLE) @ np.cross(up, side)
    pressed = (
        cosine_dent(x, y, (-17.0, 6.0), (HALF_WIDTHS_MM[0],) * 2, LOW_MM),
        cap_dent(x, y, (17.0, 14.0), HALF_WIDTHS_MM[1], CAP_MM),
        -cosine_dent(x, y, (11.0, -19.0), (HALF_WIDTHS_MM[2],) * 2, HIGH_MM),
    )
    normals = as_trimesh(target).vertex_normals
    depth = np.sum(pressed, axis=0)[:, None]
    waves = np.array([[0.35, 0.2, 0.3], [-0.2, 0.33, 0.25]])
    ripple = RIPPLE_MM * np.sin(target.vertices @ waves.T).prod(axis=1)[:, None]
    dented, rippled = (Surface(target.vertices - d * normals, target.triangles) for d in (depth, depth + ripple))
    return Flank(target, up, pressed, dented, rippled)


def as_trimesh(surface: Surface) -> trimesh.Trimesh:
    return trimesh.Trimesh(surface.vertices, surface.triangles, process=False)


def as_vtk(surface: Surface) -> pyvista.PolyData:
    return pyvista.PolyData.from_regular_faces(surface.vertices, surface.triangles)


def from_vtk(mesh: pyvista.PolyData) -> Surface:
    return Surface(np.asarray(mesh.points, dtype=np.float64), np.asarray(mesh.regular_faces, dtype=np.int64))


def vtk_loops(surface: Surface) -> tuple[int, Floats]:
    """VTK's number of free edges, and the length of each connected line of them, shortest first, mm."""
    edges = as_vtk(surface).extract_feature_edges(
        boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
    ).connectivity()
    length = edges.compute_cell_sizes(length=True, area=False, volume=False)["Length"]
    return edges.n_cells, np.sort(np.bincount(edges.cell_data["RegionId"], length))


def cut_out(surface: Surface, radius_mm: float) -> Surface:
    """The piece within ``radius_mm`` of MIDDLE, without triangles that hang by a point."""
    near = np.linalg.norm(surface.vertices[surface.triangles].mean(axis=1) - MIDDLE, axis=1) < radius_mm
    part = surface.part(near)
    while True:
        part = part.part(pieces(part)[0] == 0)
        counts = part.edge_counts.tocoo()
        pinched = np.bincount(counts.row[counts.data == 1], minlength=len(part.vertices)) > 2
        if not pinched.any():
            return Surface(part.vertices, part.triangles)
        part = part.part(~pinched[part.triangles].any(axis=1))


def _solid(sheet: Surface, along: Floats) -> manifold3d.Manifold:
    """What ``sheet`` sweeps when it is moved ``along`` (3,) mm."""
    n = len(sheet.vertices)
    counts = sheet.half_edges - sheet.half_edges.T
    counts = counts.tocoo()
    free = counts.data > 0
    a, b = counts.row[free].astype(np.int64), counts.col[free].astype(np.int64)
    walls = [np.stack([b, a, a + n], axis=1), np.stack([b, a + n, b + n], axis=1)]
    faces = np.concatenate([sheet.triangles, sheet.triangles[:, ::-1] + n, *walls])
    if along @ sheet.area_vectors.sum(axis=0) > 0:
        faces = faces[:, ::-1]
    points = np.concatenate([sheet.vertices, sheet.vertices + along])
    body = manifold3d.Manifold(manifold3d.Mesh64(points, np.ascontiguousarray(faces, dtype=np.uint64)))
    assert body.status() == manifold3d.Error.NoError
    return body


def boolean(panel: Surface, flank: Flank) -> tuple[manifold3d.Manifold, manifold3d.Manifold]:
    """What lies above the panel and below the target, and below the panel and above the target, by manifold3d."""
    below = _solid(flank.target, -40 * flank.up)
    return _solid(panel, 20 * flank.up) ^ below, _solid(panel, -20 * flank.up) - below
