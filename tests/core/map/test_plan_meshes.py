"""The coloured panel and the fill as mesh files, read back byte by byte and by other libraries.

Sources: the PLY and STL formats (vertex and face records as their headers say; 80 + 4 + 50 bytes a triangle);
trimesh, VTK's readers (pyvista), manifold3d.
"""

from __future__ import annotations

import io
from typing import Any

import manifold3d
import numpy as np
import pytest
import pyvista
import trimesh

from core.bench.materials import pick
from core.legend.legend import CHALK, SHADE, legend
from core.map.plan_meshes import fill_stl, map_depth, panel_map_ply
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.surface import Mask, Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

KEY = legend(0.25, 3.2)
VERTEX = np.dtype([
    ("xyz", "<f4", 3), ("colour", "u1", 4), ("depth_mm", "<f4"), ("area", "<i4"),
])


def two_lows() -> Surface:
    x, y = grid_points(180.0, 90.0, 2.0)
    return sheet(x, y, -cosine_dent(x, y, (50, 45), (30, 30), 2.0) - cosine_dent(x, y, (130, 45), (25, 25), 1.0))


def planned(panel: Surface, target: Surface | None = None, work_area: Mask | None = None) -> Plan:
    target = flat_target(180.0, 90.0, 30.0) if target is None else target
    return make_plan(panel, target, Settings(), pick("tin-lead-30-70"), work_area)


def vertices_of(data: bytes) -> Any:
    head, body = data.split(b"end_header\n", 1)
    lines = head.decode().splitlines()
    wanted = ["float x", "float y", "float z", "uchar red", "uchar green", "uchar blue", "uchar alpha",
              "float depth_mm", "int area"]
    assert lines[:2] == ["ply", "format binary_little_endian 1.0"]
    assert [line.removeprefix("property ") for line in lines if line.startswith("property")][:9] == wanted
    count = int(next(line for line in lines if line.startswith("element vertex")).split()[2])
    return np.frombuffer(body[: count * VERTEX.itemsize], VERTEX)


def test_the_map_in_its_bytes() -> None:
    panel = two_lows()
    plan = planned(panel)
    read = vertices_of(panel_map_ply(plan, KEY))
    assert len(read) == len(panel.vertices)
    assert np.allclose(read["depth_mm"], -read["xyz"][:, 2], atol=1e-6)  # a flat shape at 0: depth is -z
    x, y = read["xyz"][:, 0], read["xyz"][:, 1]
    assert set(read["area"][np.hypot(x - 50, y - 45) < 15]) == {1}
    assert set(read["area"][np.hypot(x - 130, y - 45) < 12]) == {2}
    assert set(read["area"][(abs(x - 90) < 6)]) == {0}
    assert (read["colour"][read["depth_mm"] < 0.2, :3] == CHALK).all()
    assert (read["colour"][:, 3] == 255).all()


def test_the_map_where_nothing_is_known() -> None:
    """Depth nan, the shade of metal not judged, no area: past the shape's edge, and outside the work area."""
    panel = two_lows()
    u, v = np.meshgrid([-30.0, 90.0], [-30.0, 120.0], indexing="ij")
    for plan in (planned(panel, sheet(u, v, 0 * u)), planned(panel, None, panel.vertices[:, 0] <= 90)):
        read = vertices_of(panel_map_ply(plan, KEY))
        unknown = read["xyz"][:, 0] > 90.3
        assert (np.isnan(read["depth_mm"]) == unknown).all()
        assert (read["colour"][unknown, :3] == SHADE).all()
        assert not read["area"][unknown].any()
        assert (np.isnan(map_depth(plan.survey)) == np.isnan(read["depth_mm"])).all()


def test_the_map_lies_where_the_scan_lay_far_from_the_origin() -> None:
    panel, target = two_lows(), flat_target(180.0, 90.0, 30.0)
    move = np.array([2000.0, -3000.0, 500.0])
    plan = planned(Surface(panel.vertices + move, panel.triangles), Surface(target.vertices + move, target.triangles))
    read = vertices_of(panel_map_ply(plan, KEY))
    assert np.allclose(read["xyz"].min(axis=0), panel.vertices.min(axis=0) + move, atol=1e-3)
    fill = trimesh.load(io.BytesIO(fill_stl(plan)), file_type="stl")
    assert np.allclose(fill.bounds.mean(axis=0)[1:], [45 - 3000, 500 - 1], atol=0.5)


def test_the_fill_is_a_closed_shell_a_low_that_a_solid_modeller_takes(tmp_path: Any) -> None:
    plan = planned(two_lows())
    data = fill_stl(plan)
    assert len(data) == 84 + 50 * int.from_bytes(data[80:84], "little")
    shells = trimesh.load(io.BytesIO(data), file_type="stl").split(only_watertight=False)
    volumes = [work.area.volume_mm3 for work in plan.works]
    assert len(shells) == len(volumes) == 2
    for shell, volume in zip(sorted(shells, key=lambda s: -s.volume), volumes, strict=True):
        assert shell.is_watertight
        assert shell.is_winding_consistent
        assert shell.volume == pytest.approx(volume, rel=1e-5)
        solid = manifold3d.Manifold(
            manifold3d.Mesh(np.asarray(shell.vertices, np.float32), np.asarray(shell.faces, np.uint32))
        )
        assert solid.status() == manifold3d.Error.NoError
        assert solid.volume() == pytest.approx(volume, rel=1e-5)
    (tmp_path / "fill.stl").write_bytes(data)
    vtk = pyvista.read(tmp_path / "fill.stl").clean()
    assert vtk.n_open_edges == 0
    assert vtk.volume == pytest.approx(sum(volumes), rel=1e-5)


def test_nothing_to_fill_is_an_stl_of_no_triangles(tmp_path: Any) -> None:
    x, y = grid_points(120.0, 90.0, 3.0)
    for depth in (0.0, -2.0):  # a sound panel, and one that only stands proud
        data = fill_stl(planned(sheet(x, y, -cosine_dent(x, y, (60, 45), (30, 30), depth))))
        assert len(data) == 84
        assert data[80:] == b"\0\0\0\0"
        assert not data.startswith(b"solid")  # which would make it a text file to many readers
    (tmp_path / "fill.stl").write_bytes(data)
    assert pyvista.read(tmp_path / "fill.stl").n_cells == 0
