"""Depth and enclosed volumes against other libraries: exact booleans of closed bodies, VTK's implicit distance."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import vtk
from vtk.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray, vtk_to_numpy

from core.depth.depth import measure_depth
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core import shapes
from tests.core.depth.between_sheets import found_between


def body(surface: Surface, up_mm: float) -> manifold3d.Manifold:
    """The closed body between a sheet and its copy ``up_mm`` higher (or, negative, lower)."""
    low = Surface(surface.vertices + [0, 0, min(up_mm, 0.0)], surface.triangles)
    points, faces = shapes.lidded(low, abs(up_mm))
    made = manifold3d.Manifold(manifold3d.Mesh64(points, faces.astype(np.uint64)))
    assert made.status() == manifold3d.Error.NoError
    assert made.volume() > 0
    return made


def boolean(panel: Surface, target: Surface) -> tuple[float, float]:
    """Fill and cut, mm3: what lies under the target and over the panel, and the reverse (manifold3d, exact)."""
    fill = (body(panel, 40.0) ^ body(target, -30.0)).volume()
    cut = (body(panel, -30.0) ^ body(target, 40.0)).volume()
    return fill, cut


def crown(x: Floats, y: Floats) -> Floats:
    return -(x**2 / 1600 + y**2 / 2400)


def damage(x: Floats, y: Floats) -> Floats:
    return (shapes.cap_dent(x, y, (-20.0, 5.0), 35.0, 4.0) + shapes.cosine_dent(x, y, (35.0, -20.0), (22.0, 30.0), 6.0)
            - shapes.cosine_dent(x, y, (30.0, 38.0), (15.0, 15.0), 1.5))


@pytest.mark.parametrize("target_step", [1.0, 2.0])
def test_volumes_against_booleans_of_closed_bodies(target_step: float) -> None:
    # manifold3d on the very same facets, panel of 1 mm.
    x, y = (g - 65 for g in shapes.grid_points(130.0, 130.0, 1.0))
    target_x, target_y = (g - 65 for g in shapes.grid_points(130.0, 130.0, target_step))
    panel = shapes.sheet(x, y, crown(x, y) - damage(x, y))
    target = shapes.sheet(target_x, target_y, crown(target_x, target_y))
    fill, cut = boolean(panel, target)
    got = found_between(panel, target)
    assert got.depth.judged.all()
    # The same facets where both are of 1 mm: a ten-thousandth. Other facets: 3 per mille.
    rel = 1e-4 if target_step == 1.0 else 3e-3
    assert got.fill == pytest.approx(fill, rel=rel)
    assert got.cut == pytest.approx(cut, rel=rel, abs=130 * 130 * 1e-3 * rel)


def test_panel_of_irregular_triangles_against_booleans() -> None:
    # manifold3d; a flat target of two triangles, a panel of shaken Delaunay triangles: flat feet, so exact.
    rng = np.random.default_rng(11)
    panel = shapes.irregular(130.0, 130.0, 2.0, rng, lambda x, y: damage(x - 65, y - 65))
    target = shapes.flat_target(130.0, 130.0, past=0.0)
    fill, cut = boolean(panel, target)
    got = found_between(panel, target)
    assert got.fill == pytest.approx(fill, rel=1e-6)
    assert got.cut == pytest.approx(cut, rel=1e-6)


@pytest.mark.parametrize("turn", [30.0, -60.0])
def test_creased_target_against_booleans(turn: float) -> None:
    # manifold3d; the panel rounds a sharp crease off with a radius of 25 mm and dips, in height, so ends are closed.
    target = shapes.roof(np.arange(-60.0, 61, 5) / np.cos(np.radians(turn / 2)), np.arange(0.0, 101, 5), turn)
    x, y = shapes.grid_points(120.0, 100.0, 1.0)
    x = x - 60
    slope = np.tan(np.radians(turn / 2))
    rounded = -slope * np.where(np.abs(x) < 12, (x**2 / 12 + 12) / 2, np.abs(x))
    low = shapes.cosine_dent(x, y, (3.0, 50.0), (40.0, 40.0), 5.0)
    panel = shapes.sheet(x, y, rounded - low)
    fill, cut = boolean(panel, target)
    got = found_between(panel, target)
    assert got.fill - got.cut == pytest.approx(fill - cut, rel=3e-3)


def test_signed_distance_against_vtk() -> None:
    # vtkImplicitPolyDataDistance: positive outside, so depth is its negative. Points over a wavy sheet of 20 mm
    # waves, kept nearer than its least radius, so that the nearest triangle is one that faces their way.
    rng = np.random.default_rng(4)
    target = shapes.irregular(80.0, 80.0, 1.5, rng, lambda x, y: 2 * np.sin(x / 12) * np.cos(y / 9))
    at = rng.uniform([8, 8], [72, 72], (3000, 2))
    z = -2 * np.sin(at[:, 0] / 12) * np.cos(at[:, 1] / 9) + rng.uniform(-5, 5, 3000)
    points = np.column_stack([at, z])
    up = np.tile([0.0, 0, 1], (3000, 1))
    got = measure_depth(points, up, target, Tree(target)).depth_mm
    np.testing.assert_allclose(got, -by_vtk(points, target), atol=1e-6)


def by_vtk(points: Floats, target: Surface) -> Floats:
    """Signed distance of ``points`` by VTK, mm."""
    mesh, corners, cells = vtk.vtkPolyData(), vtk.vtkPoints(), vtk.vtkCellArray()
    corners.SetDataTypeToDouble()
    corners.SetData(numpy_to_vtk(target.vertices, deep=True))
    rows = np.column_stack([np.full(len(target.triangles), 3), target.triangles]).ravel()
    cells.ImportLegacyFormat(numpy_to_vtkIdTypeArray(rows, deep=True))
    mesh.SetPoints(corners)
    mesh.SetPolys(cells)
    distance = vtk.vtkImplicitPolyDataDistance()
    distance.SetInput(mesh)
    out = vtk.vtkDoubleArray()
    distance.FunctionValue(numpy_to_vtk(points, deep=True), out)
    return np.asarray(vtk_to_numpy(out)).reshape(-1)
