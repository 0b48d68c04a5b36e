"""A real range scan: mended whole, and a flank of it with known dents pressed in.

The scan is StanfordBunny.ply of pymeshfix 0.18.1 (Stanford 3D Scanning Repository), read where the package
lies and never copied. Its unit says nothing; here it is taken 4 times as large, as millimetres: 200 mm across,
1.5 mm from point to point, as a workshop scanner gives. What is expected comes from VTK, pymeshfix, trimesh
and manifold3d, from the same arrays.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import manifold3d
import numpy as np
import pymeshfix
import pytest
import pyvista
import trimesh

from core.bench.materials import pick
from core.depth.depth import measure_depth
from core.depth.sheets import between
from core.depth.volume import volumes
from core.plan import Plan, make_plan
from core.settings import Settings
from core.surface.condition import Condition, mend
from core.surface.nearest import Tree
from core.surface.pieces import pieces
from core.surface.reading import read
from core.surface.surface import Floats, Surface
from tests.core.shapes import cap_dent, cosine_dent

SCALE = 4.0
MIDDLE = np.array([49.93, 32.27, 53.27])  # of the flank: one layer there, no hole, no slope over 70 degrees
FLANK_MM, PANEL_MM = 45.0, 39.0  # the finished shape goes on past the panel, as it should
RIPPLE_MM = 0.03


@pytest.fixture(scope="module")
def scan() -> Surface:
    found = importlib.util.find_spec("pymeshfix")
    assert found is not None
    assert found.origin is not None
    made = read(Path(found.origin).parent / "examples" / "StanfordBunny.ply", "mm", "panel").surface
    return Surface(made.vertices * SCALE, made.triangles)


@pytest.fixture(scope="module")
def mended(scan: Surface) -> tuple[Surface, Condition]:
    return mend(scan, "panel")


def test_the_file_is_the_one_that_was_studied(scan: Surface) -> None:
    # Counts from the data's description: 50 000 points, 99 785 triangles.
    assert (len(scan.vertices), len(scan.triangles)) == (50_000, 99_785)
    assert 1.0 < scan.mean_edge < 2.0
    assert 100 < scan.diagonal < 400


def test_non_manifold_edges_are_counted_as_vtk_counts_them(
    scan: Surface, mended: tuple[Surface, Condition]
) -> None:
    edges = _as_vtk(scan).extract_feature_edges(
        boundary_edges=False, feature_edges=False, manifold_edges=False, non_manifold_edges=True
    )
    assert mended[1].non_manifold_edges == edges.n_cells


def test_rims_and_holes_are_those_of_vtk(mended: tuple[Surface, Condition]) -> None:
    sheet, condition = mended
    loops = condition.rims + condition.holes
    edges, lengths = _vtk_loops(sheet)
    assert sum(len(loop.vertices) for loop in loops) == edges
    assert np.sort([loop.length_mm for loop in loops]) == pytest.approx(lengths, rel=1e-9)


def test_the_scans_own_holes_are_found_as_long_as_they_were(
    scan: Surface, mended: tuple[Surface, Condition]
) -> None:
    # Those that no flap of non-manifold triangles touches: 4 of the 5 large ones, whose loops mending leaves alone.
    _, raw = _vtk_loops(scan)
    ours = np.array([loop.length_mm for loop in mended[1].rims + mended[1].holes])
    large = raw[raw > 30]
    same = np.isclose(ours[:, None], large, rtol=1e-9).sum(axis=0)
    assert len(large) == (ours > 30).sum() == 5
    assert same.tolist().count(1) == 4


def test_rims_and_holes_are_as_many_as_pymeshfix_counts(mended: tuple[Surface, Condition]) -> None:
    sheet, condition = mended
    other = pymeshfix.PyTMesh()
    other.load_array(sheet.vertices, sheet.triangles.astype(np.int32))
    assert other.n_faces == condition.triangles
    assert len(condition.rims + condition.holes) == other.n_boundaries


def test_counts_area_and_windings_are_those_of_trimesh(scan: Surface, mended: tuple[Surface, Condition]) -> None:
    sheet, condition = mended
    before, after = _as_trimesh(scan), _as_trimesh(sheet)
    assert after.is_winding_consistent
    assert condition.pieces == after.body_count == 1
    assert condition.area_mm2 == pytest.approx(after.area, rel=1e-12)
    assert condition.specks_area_mm2 == pytest.approx(before.area - after.area, rel=1e-6)
    assert condition.triangles + condition.specks == len(scan.triangles)  # each speck was one loose triangle
    assert np.array_equal(sheet.vertices[sheet.row_of_input[10:20]], scan.vertices[10:20])


@dataclass(frozen=True)
class Flank:
    """The finished shape, which way is up, the depth pressed in at its points, and the dented sheet."""

    target: Surface
    up: Floats
    pressed_mm: tuple[Floats, Floats, Floats]
    dented: Surface
    rippled: Surface


@pytest.fixture(scope="module")
def flank(mended: tuple[Surface, Condition]) -> Flank:
    """A cosine low 2 mm deep, a cap 1.2 mm deep and a cosine high of 0.8 mm, along trimesh's normals."""
    target = _cut_out(mended[0], FLANK_MM)
    up = target.area_vectors.sum(axis=0) / np.linalg.norm(target.area_vectors.sum(axis=0))
    side = np.cross(up, [1.0, 0.0, 0.0]) / np.linalg.norm(np.cross(up, [1.0, 0.0, 0.0]))
    x, y = (target.vertices - MIDDLE) @ side, (target.vertices - MIDDLE) @ np.cross(up, side)
    pressed = (
        cosine_dent(x, y, (-17.0, 6.0), (16.0, 16.0), 2.0),
        cap_dent(x, y, (17.0, 14.0), 12.0, 1.2),
        -cosine_dent(x, y, (11.0, -19.0), (13.0, 13.0), 0.8),
    )
    normals = _as_trimesh(target).vertex_normals
    depth = np.sum(pressed, axis=0)[:, None]
    waves = np.array([[0.35, 0.2, 0.3], [-0.2, 0.33, 0.25]])
    ripple = RIPPLE_MM * np.sin(target.vertices @ waves.T).prod(axis=1)[:, None]
    dented, rippled = (Surface(target.vertices - d * normals, target.triangles) for d in (depth, depth + ripple))
    return Flank(target, up, pressed, dented, rippled)


def test_the_flank_can_be_closed(flank: Flank) -> None:
    # One rim, all of it facing up: pushed along "up" it can't run into itself, so the boolean is good.
    _, loops = _vtk_loops(flank.target)
    assert len(loops) == 1
    assert (flank.target.normals @ flank.up).min() > 0.3
    assert (flank.rippled.normals @ flank.up).min() > 0.3
    assert not any(np.abs(d[flank.target.on_rim]).any() for d in flank.pressed_mm)


def test_enclosed_volume_of_shared_facets(flank: Flank) -> None:
    """0.3 %: the feet of a bent sheet are not its old corners, and a chord of 1.5 mm on 60 mm radius cuts corners."""
    fill, cut = _enclosed(flank.dented, flank.target)
    low, high = _boolean(flank.dented, flank)
    assert (fill, cut) == pytest.approx((low.volume(), high.volume()), rel=3e-3)
    # The divergence theorem over both sheets as one closed body: no boolean in it.
    both = np.concatenate([flank.target.triangles, flank.dented.triangles[:, ::-1] + len(flank.target.vertices)])
    body = trimesh.Trimesh(np.concatenate([flank.target.vertices, flank.dented.vertices]), both, process=False)
    assert low.volume() - high.volume() == pytest.approx(body.volume, rel=1e-9)
    assert fill - cut == pytest.approx(body.volume, rel=3e-3)


def test_enclosed_volume_halves_its_error_on_finer_facets(flank: Flank) -> None:
    """Every panel triangle divided in four by trimesh: the same panel, so the boolean stays as it was."""
    panel = _cut_out(flank.rippled, PANEL_MM)
    points, triangles = trimesh.remesh.subdivide(panel.vertices, panel.triangles)
    finer = Surface(points, np.asarray(triangles, dtype=np.int64))
    low, high = _boolean(panel, flank)
    assert _boolean(finer, flank)[0].volume() == pytest.approx(low.volume(), rel=1e-9)
    coarse, fine = _enclosed(panel, flank.target), _enclosed(finer, flank.target)
    assert coarse == pytest.approx((low.volume(), high.volume()), rel=3e-3)
    assert fine == pytest.approx((low.volume(), high.volume()), rel=1.5e-3)
    assert abs(fine[0] - low.volume()) < 0.75 * abs(coarse[0] - low.volume())


def test_enclosed_volume_of_a_panel_of_other_facets(flank: Flank) -> None:
    """Smoothed and refined, or thinned by three tenths, by VTK: no facet and few points are the target's.

    On thinned facets fill and cut are each right within a mean depth of 0.003 mm: the old facets' relief below
    theirs is not seen, depth being linear between a panel's points.
    """
    mesh = _as_vtk(_cut_out(flank.rippled, PANEL_MM))
    smooth, thinned = _from_vtk(mesh.subdivide(1, "loop")), _from_vtk(mesh.decimate(0.3))
    low, high = (body.volume() for body in _boolean(smooth, flank))
    assert _enclosed(smooth, flank.target) == pytest.approx((low, high), rel=4e-3)
    low, high = (body.volume() for body in _boolean(thinned, flank))
    assert len(thinned.triangles) < 4000
    assert _enclosed(thinned, flank.target) == pytest.approx((low, high), abs=0.003 * thinned.area)


@pytest.fixture(scope="module")
def plan(flank: Flank) -> Plan:
    return make_plan(_cut_out(flank.dented, PANEL_MM), flank.target, Settings(), pick(Settings().material, None))


def test_areas_are_the_dents_that_were_pressed_in(plan: Plan, flank: Flank) -> None:
    low, high = _boolean(flank.dented, flank)
    # The rest are slivers where the two sheets are the same: far below a cubic millimetre.
    bodies = [sorted((b.volume() for b in body.decompose() if b.volume() > 1), reverse=True) for body in (low, high)]
    areas = plan.survey.areas
    assert [len(b) for b in bodies] == [2, 1]
    assert [a.volume_mm3 for a in areas.of_kind("low")] == pytest.approx(bodies[0], rel=3e-3)
    assert [a.volume_mm3 for a in areas.of_kind("high")] == pytest.approx(bodies[1], rel=3e-3)
    assert not any(a.reaches_rim for a in areas.found)
    assert plan.warnings == ()


def test_areas_lie_where_they_were_pressed_in_and_as_deep(plan: Plan, flank: Flank) -> None:
    """Depth after smoothing of 3 mm: 5 % less at most (a cosine 32 mm wide loses 3.5 %, by its wave number)."""
    found = (*plan.survey.areas.of_kind("low"), *plan.survey.areas.of_kind("high"))
    for area, pressed in zip(found, flank.pressed_mm, strict=True):
        deepest = flank.target.vertices[np.abs(pressed).argmax()]
        assert np.linalg.norm(np.array(area.deepest_point_mm) - deepest) < 4.0  # two edges and the depth itself
        assert 0.95 * np.abs(pressed).max() < area.depth_max_mm <= np.abs(pressed).max() + 1e-6


def test_first_order_integral_is_near_on_a_crowned_flank(plan: Plan, flank: Flank) -> None:
    """Depth times the target's area: too much in a low and too little in a high, by depth times curvature.

    Second order (Steiner): V = integral of d (1 - d H), H the mean curvature, here about 1 / 60 mm.
    """
    first = [float(d @ flank.target.vertex_areas) for d in flank.pressed_mm]
    lows = [a.volume_mm3 for a in plan.survey.areas.of_kind("low")]
    highs = [a.volume_mm3 for a in plan.survey.areas.of_kind("high")]
    for volume, integral in zip([*lows, *highs], [first[0], first[1], -first[2]], strict=True):
        assert volume == pytest.approx(integral, rel=0.03)
    assert sum(lows) < first[0] + first[1]
    assert highs[0] > -first[2]


def test_the_target_is_found_under_its_own_normals(flank: Flank) -> None:
    """Pressed along the normals, a smooth flank's depth is what was pressed, where points are dense for the dent."""
    panel = flank.dented
    depth = measure_depth(panel.vertices, panel.vertex_normals, flank.target, Tree(flank.target))
    assert depth.judged.all()
    misfit = depth.depth_mm - np.sum(flank.pressed_mm, axis=0)
    assert np.sqrt(np.mean(misfit**2)) < 0.002


def _as_trimesh(surface: Surface) -> trimesh.Trimesh:
    return trimesh.Trimesh(surface.vertices, surface.triangles, process=False)


def _as_vtk(surface: Surface) -> pyvista.PolyData:
    return pyvista.PolyData.from_regular_faces(surface.vertices, surface.triangles)


def _from_vtk(mesh: pyvista.PolyData) -> Surface:
    return Surface(np.asarray(mesh.points, dtype=np.float64), np.asarray(mesh.regular_faces, dtype=np.int64))


def _vtk_loops(surface: Surface) -> tuple[int, Floats]:
    """VTK's number of free edges, and the length of each connected line of them, shortest first, mm."""
    edges = _as_vtk(surface).extract_feature_edges(
        boundary_edges=True, feature_edges=False, manifold_edges=False, non_manifold_edges=False
    ).connectivity()
    length = edges.compute_cell_sizes(length=True, area=False, volume=False)["Length"]
    return edges.n_cells, np.sort(np.bincount(edges.cell_data["RegionId"], length))


def _cut_out(surface: Surface, radius_mm: float) -> Surface:
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


def _boolean(panel: Surface, flank: Flank) -> tuple[manifold3d.Manifold, manifold3d.Manifold]:
    """What lies above the panel and below the target, and below the panel and above the target, by manifold3d."""
    below = _solid(flank.target, -40 * flank.up)
    return _solid(panel, 20 * flank.up) ^ below, _solid(panel, -20 * flank.up) - below


def _enclosed(panel: Surface, target: Surface) -> tuple[float, float]:
    """Fill and cut between the sheets, mm3, by the code under test."""
    judge = partial(measure_depth, target=target, tree=Tree(target))
    inside = volumes(between(panel, judge(panel.vertices, panel.vertex_normals), judge))
    return float(inside.fill_mm3.sum()), float(inside.cut_mm3.sum())
