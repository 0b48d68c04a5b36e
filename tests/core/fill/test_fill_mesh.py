"""The fill's shells: closed, and of the volume of the prisms that they are made of.

Sources: divergence theorem (trimesh's volume); manifold3d, which takes closed bodies alone; closed forms of solids.
"""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from core.depth.depth import measure_depth
from core.depth.sheets import Sheets, between
from core.depth.volume import volumes
from core.fill.fill_mesh import fill_mesh
from core.surface.nearest import Tree
from core.surface.surface import Floats, Mask, Surface
from tests.core.shapes import cosine_dent, grid_points, grid_rows, sheet


def two_sheets(depth: Floats, step: float, lean: float = 0.0) -> Sheets:
    """Flat panel on a grid, its feet ``depth`` (nx, ny) mm above, and aside by ``lean`` times the depth."""
    nx, ny = depth.shape
    x, y = np.meshgrid(step * np.arange(nx), step * np.arange(ny), indexing="ij")
    panel = np.stack([x.ravel(), y.ravel(), np.zeros(nx * ny)], axis=1)
    feet = panel + depth.ravel()[:, None] * np.array([lean * np.sin(1 + depth.sum()), -lean, 1.0])
    triangles = grid_rows(nx, ny)
    return Sheets(panel, feet, depth.ravel(), triangles, np.arange(len(triangles)))


def all_of(sheets: Sheets) -> Mask:
    return np.ones(len(sheets.triangles), dtype=bool)


def as_read_back(shell: Surface) -> trimesh.Trimesh:
    """Welded by position in the STL file's single precision, as any mesh program does."""
    return trimesh.Trimesh(shell.vertices.astype(np.float32), shell.triangles, process=True)


def signed_volume(shell: Surface) -> float:
    """Sum of the cones from the origin over the triangles (divergence theorem)."""
    a, b, c = shell.corners
    return float(np.einsum("ij,ij->", a, np.cross(b, c))) / 6


def manifold_volume(mesh: trimesh.Trimesh) -> float:
    made = manifold3d.Manifold(
        manifold3d.Mesh(np.asarray(mesh.vertices, np.float32), np.asarray(mesh.faces, np.uint32))
    )
    assert made.status() == manifold3d.Error.NoError
    return float(made.volume())


def test_a_box_and_a_pyramid() -> None:
    """Box: l w h. Pyramid whose apex is a grid point, so that it is exact: l w h / 3 (solid geometry)."""
    x, y = np.meshgrid(np.arange(9), np.arange(9), indexing="ij")
    apex = 1 - np.maximum(abs(x - 4), abs(y - 4)) / 4
    for depth, wanted in ((np.full((9, 9), 2.5), 16 * 16 * 2.5), (3.0 * apex, 16 * 16 * 3.0 / 3)):
        sheets = two_sheets(depth, 2.0)
        shell = as_read_back(fill_mesh(sheets, all_of(sheets)))
        assert shell.is_watertight
        assert shell.is_winding_consistent
        # The grid's one diagonal cuts two of the pyramid's four edges: a tetrahedron a cell is missing there.
        missing = 0.0 if wanted > 400 else float(volumes(sheets).signed_mm3.sum()) - wanted
        assert abs(missing) < 0.05 * wanted
        assert shell.volume == pytest.approx(wanted + missing, rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(
    depth=st.lists(st.floats(0.05, 8.0), min_size=30, max_size=30), kept=st.integers(1, 2**40 - 1),
    lean=st.floats(0.0, 0.3),
)
def test_any_fill_is_closed_and_has_the_volume_of_its_prisms(depth: list[float], kept: int, lean: float) -> None:
    """Whichever of 40 pairs are inside, corners touching or not."""
    sheets = two_sheets(np.reshape(depth, (6, 5)), 3.0, lean)
    inside = (kept >> np.arange(40)) & 1 == 1
    shell = fill_mesh(sheets, inside)
    wanted = float(volumes(sheets).signed_mm3[inside].sum())
    assert signed_volume(shell) == pytest.approx(wanted, rel=1e-9)
    start, end = shell.triangles.ravel(), np.roll(shell.triangles, -1, axis=1).ravel()
    there, back = (np.sort(a * len(shell.vertices) + b) for a, b in ((start, end), (end, start)))
    assert (there == back).all()  # each directed edge is met by its opposite: closed and wound alike


@settings(max_examples=30, deadline=None)
@given(depth=st.lists(st.integers(-200, 400), min_size=30, max_size=30))
def test_where_the_panel_comes_through_fill_less_cut_is_kept(depth: list[int]) -> None:
    sheets = two_sheets(np.reshape(depth, (6, 5)) / 100, 3.0)
    both = volumes(sheets)
    shell = fill_mesh(sheets, all_of(sheets))
    assert signed_volume(shell) == pytest.approx(float(both.fill_mm3.sum() - both.cut_mm3.sum()), abs=1e-9)


def test_depths_next_to_nothing_have_a_volume_next_to_nothing() -> None:
    """Two corners 1e-210 mm off on opposite sides, as a modeller's file may have them: no 0 divided by 0."""
    depth = np.zeros((3, 3))
    depth[1, 1], depth[2, 2] = 1e-308, -1e-210
    both = volumes(two_sheets(depth, 3.0))
    assert np.abs([both.fill_mm3, both.cut_mm3]).max() < 1e-12


@pytest.mark.parametrize("shape", ["dent", "pit", "two dents"])
def test_a_fill_that_runs_out_to_nothing_is_closed_too(shape: str) -> None:
    """Clean meshes, where the depth is exactly 0 all around: no wall of no height is left, no doubled skin."""
    x, y = grid_points(80.0, 60.0, 2.0)
    depth = {
        "dent": cosine_dent(x, y, (40, 30), (25, 25), 2.0),
        "pit": np.where(np.hypot(x - 40, y - 30) < 25, 1.0, 0.0),
        "two dents": cosine_dent(x, y, (20, 30), (15, 15), 2.0) + cosine_dent(x, y, (60, 30), (15, 15), 1.0),
    }[shape]
    sheets = two_sheets(depth, 2.0)
    inside = (depth.ravel()[sheets.triangles] > 0).any(axis=1)
    wanted = float(volumes(sheets).signed_mm3.sum())
    for mask in (inside, all_of(sheets)):
        shell = as_read_back(fill_mesh(sheets, mask))
        assert shell.is_watertight
        assert shell.volume == pytest.approx(wanted, rel=1e-6)
        assert manifold_volume(shell) == pytest.approx(wanted, rel=1e-6)


def test_the_divided_triangles_over_a_crease_close() -> None:
    """A roof of 90 degrees 5 mm over its panel: mended triangles meet no undivided edge. Its fill, by sections."""
    x, y = np.meshgrid(np.arange(-30.0, 30.1, 4.0), np.arange(0.0, 60.1, 4.0), indexing="ij")
    panel = sheet(x, y, -abs(x) - 5.0)
    u, v = np.meshgrid([-100.0, 0.0, 100.0], [-50.0, 110.0], indexing="ij")
    roof = sheet(u, v, -abs(u))
    tree = Tree(roof)

    def judge(points: Floats, normals: Floats):  # type: ignore[no-untyped-def]
        return measure_depth(points, normals, roof, tree, 20.0, 0.0)

    sheets = between(panel, judge(panel.vertices, panel.vertex_normals), judge)
    assert len(sheets.triangles) > len(panel.triangles)
    shell = fill_mesh(sheets, all_of(sheets))
    assert signed_volume(shell) == pytest.approx(float(volumes(sheets).signed_mm3.sum()), rel=1e-9)
    read_back = as_read_back(shell)
    assert read_back.is_watertight
    assert read_back.volume == pytest.approx(signed_volume(shell), rel=1e-5)


def test_nothing_inside_gives_nothing() -> None:
    sheets = two_sheets(np.ones((3, 3)), 1.0)
    shell = fill_mesh(sheets, np.zeros(8, dtype=bool))
    assert shell.vertices.shape == (0, 3)
    assert shell.triangles.shape == (0, 3)
