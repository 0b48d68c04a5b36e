"""A real range scan: mended whole, and a flank of it with known dents pressed in.

What is expected comes from VTK, pymeshfix, trimesh and manifold3d, from the same arrays; see `real_scan`.
"""

from __future__ import annotations

from functools import partial

import numpy as np
import pymeshfix
import pytest
import trimesh

from core.bench.materials import pick
from core.depth.depth import measure_depth
from core.depth.sheets import between
from core.depth.volume import volumes
from core.planning.plan import Plan, make_plan
from core.settings import Settings
from core.surface.condition import Condition, mend
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.real_scan import (
    CAP_MM,
    HALF_WIDTHS_MM,
    HIGH_MM,
    LOW_MM,
    PANEL_MM,
    Flank,
    as_trimesh,
    as_vtk,
    boolean,
    cut_out,
    dented_flank,
    from_vtk,
    real_scan,
    vtk_loops,
)


@pytest.fixture(scope="module")
def scan() -> Surface:
    return real_scan()


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
    edges = as_vtk(scan).extract_feature_edges(
        boundary_edges=False, feature_edges=False, manifold_edges=False, non_manifold_edges=True
    )
    assert mended[1].non_manifold_edges == edges.n_cells


def test_rims_and_holes_are_those_of_vtk(mended: tuple[Surface, Condition]) -> None:
    sheet, condition = mended
    loops = condition.rims + condition.holes
    edges, lengths = vtk_loops(sheet)
    assert sum(len(loop.vertices) for loop in loops) == edges
    assert np.sort([loop.length_mm for loop in loops]) == pytest.approx(lengths, rel=1e-9)
    assert [rim.length_mm for rim in condition.rims] == pytest.approx([lengths[-1]], rel=1e-9)


def test_the_scans_own_holes_are_found_as_long_as_they_were(
    scan: Surface, mended: tuple[Surface, Condition]
) -> None:
    # Those that no flap of non-manifold triangles touches: 4 of the 5 large ones, whose loops mending leaves alone.
    _, raw = vtk_loops(scan)
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
    before, after = as_trimesh(scan), as_trimesh(sheet)
    assert after.is_winding_consistent
    assert condition.pieces == after.body_count == 1
    assert condition.area_mm2 == pytest.approx(after.area, rel=1e-12)
    assert condition.specks_area_mm2 == pytest.approx(before.area - after.area, rel=1e-6)
    assert condition.triangles + condition.specks == len(scan.triangles)  # each speck was one loose triangle
    assert sheet.row_of_input is not None
    kept = sheet.row_of_input >= 0
    assert (~kept).sum() < 3 * condition.specks
    assert np.array_equal(sheet.vertices[sheet.row_of_input[kept]], scan.vertices[kept])


@pytest.fixture(scope="module")
def flank(mended: tuple[Surface, Condition]) -> Flank:
    return dented_flank(mended[0])


def test_the_flank_can_be_closed(flank: Flank) -> None:
    # One rim, all of it facing up: pushed along "up" it can't run into itself, so the boolean is good.
    _, loops = vtk_loops(flank.target)
    assert len(loops) == 1
    assert (flank.target.normals @ flank.up).min() > 0.3
    assert (flank.rippled.normals @ flank.up).min() > 0.3
    assert not any(np.abs(d[flank.target.on_rim]).any() for d in flank.pressed_mm)


def test_enclosed_volume_of_shared_facets(flank: Flank) -> None:
    """0.3 %: the feet of a bent sheet are not its old corners, and a chord of 1.5 mm on 60 mm radius cuts corners."""
    fill, cut = _enclosed(flank.dented, flank.target)
    low, high = boolean(flank.dented, flank)
    assert (fill, cut) == pytest.approx((low.volume(), high.volume()), rel=3e-3)
    # The divergence theorem over both sheets as one closed body: no boolean in it.
    both = np.concatenate([flank.target.triangles, flank.dented.triangles[:, ::-1] + len(flank.target.vertices)])
    body = trimesh.Trimesh(np.concatenate([flank.target.vertices, flank.dented.vertices]), both, process=False)
    assert low.volume() - high.volume() == pytest.approx(body.volume, rel=1e-9)
    assert fill - cut == pytest.approx(body.volume, rel=3e-3)


def test_enclosed_volume_comes_nearer_on_finer_facets(flank: Flank) -> None:
    """Every panel triangle divided in four by trimesh: the same panel, so the boolean stays as it was."""
    panel = cut_out(flank.rippled, PANEL_MM)
    points, triangles = trimesh.remesh.subdivide(panel.vertices, panel.triangles)
    finer = Surface(points, np.asarray(triangles, dtype=np.int64))
    low, high = boolean(panel, flank)
    assert boolean(finer, flank)[0].volume() == pytest.approx(low.volume(), rel=1e-9)
    coarse, fine = _enclosed(panel, flank.target), _enclosed(finer, flank.target)
    assert coarse == pytest.approx((low.volume(), high.volume()), rel=3e-3)
    assert fine == pytest.approx((low.volume(), high.volume()), rel=1.5e-3)
    assert abs(fine[0] - low.volume()) < 0.75 * abs(coarse[0] - low.volume())


def test_enclosed_volume_of_a_panel_of_other_facets(flank: Flank) -> None:
    """Smoothed and refined, or thinned by three tenths, by VTK: no facet and few points are the target's.

    On thinned facets fill and cut are each right within a mean depth of 0.003 mm: the old facets' relief below
    theirs is not seen, depth being linear between a panel's points.
    """
    mesh = as_vtk(cut_out(flank.rippled, PANEL_MM))
    smooth, thinned = from_vtk(mesh.subdivide(1, "loop")), from_vtk(mesh.decimate(0.3))
    low, high = (body.volume() for body in boolean(smooth, flank))
    assert _enclosed(smooth, flank.target) == pytest.approx((low, high), rel=4e-3)
    low, high = (body.volume() for body in boolean(thinned, flank))
    assert len(thinned.triangles) < 4000
    assert _enclosed(thinned, flank.target) == pytest.approx((low, high), abs=0.003 * thinned.area)


@pytest.fixture(scope="module")
def plan(flank: Flank) -> Plan:
    return make_plan(cut_out(flank.dented, PANEL_MM), flank.target, Settings(), pick(Settings().material, None))


def test_areas_are_the_dents_that_were_pressed_in(plan: Plan, flank: Flank) -> None:
    low, high = boolean(flank.dented, flank)
    # The rest are slivers where the two sheets are the same: far below a cubic millimetre.
    bodies = [sorted((b.volume() for b in body.decompose() if b.volume() > 1), reverse=True) for body in (low, high)]
    areas = plan.survey.areas
    assert [len(b) for b in bodies] == [2, 1]
    assert [a.volume_mm3 for a in areas.of_kind("low")] == pytest.approx(bodies[0], rel=3e-3)
    assert [a.volume_mm3 for a in areas.of_kind("high")] == pytest.approx(bodies[1], rel=3e-3)
    assert not any(a.reaches_rim for a in areas.found)
    assert plan.warnings == ()


def test_areas_lie_where_they_were_pressed_in_and_as_deep(plan: Plan, flank: Flank) -> None:
    """Denoised depth, which loses of a dent of half width a no more than theory says of a round cosine.

    Smoothing by b leaves exp(-(pi b / a)^2) of the cosine (heat equation in two directions); the remainder is smoothed
    and added once more, so the square of what is missing is lost, of the half of the depth that the cosine is.
    """
    found = (*plan.survey.areas.of_kind("low"), *plan.survey.areas.of_kind("high"))
    halves, depths = np.array(HALF_WIDTHS_MM), np.array([LOW_MM, CAP_MM, HIGH_MM])
    lost = 0.5 * (1 - np.exp(-((np.pi * plan.survey.steady.bandwidth_mm / halves) ** 2))) ** 2
    assert plan.survey.steady.bandwidth_mm < 3.1
    for area, pressed, depth, least in zip(found, flank.pressed_mm, depths, (1 - lost) * depths, strict=True):
        deepest = flank.target.vertices[np.abs(pressed).argmax()]
        assert np.linalg.norm(np.array(area.deepest_point_mm) - deepest) < 4.0  # two edges and the depth itself
        assert least < area.depth_max_mm <= 1.005 * depth


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


def _enclosed(panel: Surface, target: Surface) -> tuple[float, float]:
    """Fill and cut between the sheets, mm3, by the code under test."""
    judge = partial(measure_depth, target=target, tree=Tree(target))
    inside = volumes(between(panel, judge(panel.vertices, panel.vertex_normals), judge))
    return float(inside.fill_mm3.sum()), float(inside.cut_mm3.sum())
