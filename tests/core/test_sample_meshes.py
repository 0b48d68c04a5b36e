"""The sample itself: its size, that its script makes it again, and that the known answers are true.

The surface and the damage are written down here a second time, straight from the numbers in
tailgate_expected.json, and their volumes are taken another way (divergence theorem on closed bodies).
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import igl
import numpy as np
import pytest
import trimesh
from scipy.spatial.distance import pdist

SAMPLES = Path(__file__).parents[2] / "sample_meshes"
EXPECTED = json.loads((SAMPLES / "tailgate_expected.json").read_text(encoding="utf-8"))
SHAPE = EXPECTED["shape"]
AREAS = {area["name"]: area for area in EXPECTED["areas"]}


def mesh(path):
    loaded = trimesh.load(path, process=False)
    loaded.merge_vertices()
    return loaded


@pytest.fixture(scope="module")
def scan():
    return mesh(SAMPLES / "tailgate_scan.ply")


@pytest.fixture(scope="module")
def shape():
    return mesh(SAMPLES / "tailgate_shape.stl")


def face_height(x, y):
    """Two crowns less the pocket, from the numbers in the json alone."""
    pocket, (rx, ry) = SHAPE["pocket_mm"], SHAPE["crown_radius_mm"]
    spine = (pocket["length"] - pocket["height"]) / 2
    nearest = np.clip(x - pocket["centre"][0], -spine, spine) + pocket["centre"][0]
    inward = pocket["height"] / 2 - np.hypot(x - nearest, y - pocket["centre"][1])
    wall = np.clip(inward / pocket["wall"], 0, 1)
    return -(x**2) / (2 * rx) - y**2 / (2 * ry) - pocket["depth"] * np.sin(np.pi / 2 * wall) ** 2


def face_normal(x, y):
    """By central differences: owes nothing to the script's derivatives."""
    h = 1e-4
    zx = (face_height(x + h, y) - face_height(x - h, y)) / (2 * h)
    zy = (face_height(x, y + h) - face_height(x, y - h)) / (2 * h)
    normal = np.stack([-zx, -zy, np.ones_like(zx)], axis=-1)
    return normal / np.linalg.norm(normal, axis=-1, keepdims=True)


def reach(area, x, y):
    plan = area["plan"]
    turn = np.exp(-1j * np.radians(plan["turn_deg"]))
    local = ((x - plan["centre_mm"][0]) + 1j * (y - plan["centre_mm"][1])) * turn
    return np.hypot(local.real / plan["half_axes_mm"][0], local.imag / plan["half_axes_mm"][1])


def polar_grid(area, rings=400, spokes=800):
    """Plan points over the damage's ellipse, or over its lower half where it is cut by the upper rim."""
    plan = area["plan"]
    angle = np.linspace(np.pi, 2 * np.pi if area["reaches_rim"] else 3 * np.pi, spokes + 1)
    r = np.linspace(0, 1, rings + 1)[:, None]
    local = r * (plan["half_axes_mm"][0] * np.cos(angle) + 1j * plan["half_axes_mm"][1] * np.sin(angle))
    turned = local * np.exp(1j * np.radians(plan["turn_deg"]))
    depth = area["depth_max_mm"] * np.cos(np.pi / 2 * r) ** 2 * np.ones_like(angle)
    return plan["centre_mm"][0] + turned.real, plan["centre_mm"][1] + turned.imag, depth


def cone_sum(grid):
    """Six times the volume of the cones from the origin over a grid of quads (n, m, 3), each cut in two."""
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    return sum(np.einsum("...i,...i", p, np.cross(q, r)).sum() for p, q, r in ((a, b, c), (a, c, d)))


def test_together_the_files_stay_under_3_mb():
    assert sum(path.stat().st_size for path in SAMPLES.glob("tailgate*")) < 3_000_000


def test_the_script_makes_the_same_meshes_and_answers_again(tmp_path, scan, shape):
    subprocess.run([sys.executable, str(SAMPLES / "make_tailgate.py"), str(tmp_path)], check=True, timeout=120)
    for name, before in (("tailgate_scan.ply", scan), ("tailgate_shape.stl", shape)):
        again = mesh(tmp_path / name)
        # A float32 at 350 mm is good to 3e-5 mm; another maths library may round the last bit the other way.
        np.testing.assert_allclose(again.vertices, before.vertices, rtol=0, atol=1e-4)
        assert np.array_equal(again.faces, before.faces)
    again = json.loads((tmp_path / "tailgate_expected.json").read_text(encoding="utf-8"))
    assert again == EXPECTED


def test_unit_and_invention_are_stated():
    assert EXPECTED["unit"] == "mm"
    assert "no real vehicle" in EXPECTED["what"]
    assert b"comment unit mm\n" in (SAMPLES / "tailgate_scan.ply").read_bytes()[:300]
    stl_header = (SAMPLES / "tailgate_shape.stl").read_bytes()[:80]
    assert b"mm" in stl_header
    assert not stl_header.startswith(b"solid")  # else some readers take a binary STL for text


def test_counts_and_size_are_as_stated(scan, shape):
    counts = [{"vertices": len(found.vertices), "triangles": len(found.faces)} for found in (scan, shape)]
    assert EXPECTED["files"] == dict(zip(("tailgate_scan.ply", "tailgate_shape.stl"), counts, strict=True))
    np.testing.assert_allclose(np.ptp(shape.vertices, axis=0), EXPECTED["overall_size_mm"], atol=0.006)
    assert EXPECTED["overall_size_mm"][:2] == pytest.approx([700, 420], abs=0.1)
    assert 2.5 < scan.edges_unique_length.mean() < 3.0


def test_sheets_are_whole_and_wound_from_outside(scan, shape):
    for found, loops in ((scan, 1 + 5 + 4), (shape, 1 + 5)):  # outline, holes, drop-outs
        uses = np.unique(found.edges_sorted, axis=0, return_counts=True)[1]
        assert uses.max() == 2
        assert found.is_winding_consistent
        assert found.body_count == 1
        assert found.euler_number == 2 - loops  # Euler: a sphere less one disc a loop
        assert found.area_faces.min() > 0.1  # mm2: no slivers
        middle = found.triangles_center
        # The face looks up: the pocket's wall leans at most atan(8 pi / 40), 32 degrees, and the crown 7 more.
        on_face = (middle[:, 2] > face_height(middle[:, 0], middle[:, 1]) - 5.5) & (middle[:, 1] > -190)
        assert found.face_normals[on_face][:, 2].min() > 0.75


def test_shape_lies_on_the_stated_face_and_hem(shape):
    hem = SHAPE["hem_mm"]
    x, y, z = shape.vertices.T
    slope = -hem["y"] / SHAPE["crown_radius_mm"][1]
    length = np.hypot(1, slope)
    dy, dz = y - hem["y"], z - face_height(x, np.full_like(x, hem["y"]))
    along, above = -(dy + slope * dz) / length, (dz - slope * dy) / length  # down the sheet, off the sheet
    bend = along > 1e-3
    flange = ~bend & (above < -hem["gap"] / 2) & (dy < 20)
    face = ~bend & ~flange
    assert face.sum() > 8000
    assert np.abs(z - face_height(x, y))[face].max() < 1e-4
    assert bend.sum() > 1000
    radius = np.hypot(along, above + hem["bend_radius"])[bend]
    np.testing.assert_allclose(radius, hem["bend_radius"], atol=1e-4)
    np.testing.assert_allclose(above[flange], -hem["gap"], atol=1e-4)
    assert along[flange].min() == pytest.approx(-hem["flange"], abs=1e-4)
    assert 3.0 <= hem["gap"] <= 4.0
    under = np.all(flange[shape.faces], axis=1)
    assert under.sum() > 200
    assert shape.face_normals[under][:, 2].max() < -0.9  # the flange's outside looks away from the face


def test_scan_sees_the_flange_in_part(scan, shape):
    def underside(found):
        return found.area_faces[found.face_normals[:, 2] < -0.9].sum()

    assert 0.2 < underside(scan) / underside(shape) < 0.8


@pytest.mark.parametrize("hole", EXPECTED["holes"], ids=str)
def test_holes_are_round(hole, scan, shape):
    for found, tolerance in ((shape, 0.003), (scan, 0.03)):  # the scan's noise tilts a rim a little
        edges, uses = np.unique(found.edges_sorted, axis=0, return_counts=True)
        rim = found.vertices[np.unique(edges[uses == 1])]
        rim = rim[np.linalg.norm(rim - hole["centre_mm"], axis=1) < hole["diameter_mm"] / 2 + 1]
        assert len(rim) >= 16
        middle = rim.mean(axis=0)
        flat = (rim - middle) @ np.linalg.svd(rim - middle, full_matrices=False)[2][:2].T
        # Circle by linear least squares, Kasa 1976 (from memory).
        p, q, s = np.linalg.lstsq(np.column_stack([2 * flat, np.ones(len(flat))]), (flat**2).sum(axis=1), rcond=None)[0]
        assert 2 * np.sqrt(s + p * p + q * q) == pytest.approx(hole["diameter_mm"], abs=tolerance)
        assert np.hypot(*(flat - [p, q]).T).std() < tolerance


@pytest.mark.parametrize("area", EXPECTED["areas"], ids=lambda area: area["name"])
def test_volume_area_and_depth_by_closed_bodies(area):
    x, y, depth = polar_grid(area)
    top = np.stack([x, y, face_height(x, y)], axis=-1)
    sign = 1 if area["kind"] == "low" else -1
    bottom = top - sign * depth[..., None] * face_normal(x, y)
    # Top and bottom meet on the ellipse. At the rim a wall closes the body; elsewhere the two walls cancel.
    walls = [np.stack([top[:, k], bottom[:, k]]) for k in (0, -1)]
    volume = (cone_sum(top) - cone_sum(bottom) + cone_sum(walls[0]) - cone_sum(walls[1])) / 6
    assert sign * volume == pytest.approx(area["volume_mm3"], rel=2e-4)
    quads = np.cross(top[1:, 1:] - top[:-1, :-1], top[:-1, 1:] - top[1:, :-1])
    assert np.linalg.norm(quads, axis=-1).sum() / 2 == pytest.approx(area["area_mm2"], rel=2e-4)
    deepest = np.unravel_index(depth.argmax(), depth.shape)
    np.testing.assert_allclose(bottom[deepest], area["deepest_point_mm"], atol=6e-4)


def test_volumes_are_near_the_flat_closed_form():
    # Cosine hollow over an ellipse on a flat sheet: d pi a b (1/2 - 2/pi^2), by direct integration.
    for area in EXPECTED["areas"]:
        a, b = area["plan"]["half_axes_mm"]
        flat = area["depth_max_mm"] * np.pi * a * b * (0.5 - 2 / np.pi**2) / (2 if area["reaches_rim"] else 1)
        # The sheet slopes by up to 0.2 (2 % more area, more on the pocket's wall).
        assert 0.995 < area["volume_mm3"] / flat < 1.04


def test_damage_keeps_clear_of_other_damage_holes_drop_outs_and_hem():
    x, y = (each.ravel() for each in np.meshgrid(np.arange(-350, 351.0), np.arange(-210, 211.0)))
    assert sum(reach(area, x, y) < 1 for area in EXPECTED["areas"]).max() == 1
    for area in EXPECTED["areas"]:
        assert y[reach(area, x, y) < 1].min() > SHAPE["hem_mm"]["y"] + 10
        gaps = [(hole["centre_mm"][:2], hole["diameter_mm"] / 2) for hole in EXPECTED["holes"]]
        gaps += [(gap["centre_mm"], gap["about_mm"]) for gap in EXPECTED["drop_outs"]]
        for (gx, gy), clear in gaps:
            near = np.hypot(x - gx, y - gy) < clear
            assert reach(area, x[near], y[near]).min() > 1


@pytest.fixture(scope="module")
def depth(scan, shape):
    """Depth at each scan vertex by libigl: a witness outside the project."""
    signed = igl.signed_distance(
        np.asarray(scan.vertices), np.asarray(shape.vertices), np.asarray(shape.faces, dtype=np.int64),
        sign_type=igl.SIGNED_DISTANCE_TYPE_PSEUDONORMAL,
    )
    return -signed[0]


def test_sound_metal_carries_only_the_stated_noise(scan, depth):
    x, y, _ = scan.vertices.T
    sound = np.all([reach(area, x, y) > 1.02 for area in EXPECTED["areas"]], axis=0)
    sigma, length = EXPECTED["noise"]["sigma_mm"], EXPECTED["noise"]["correlation_mm"]
    # About 750 independent patches of 2 pi l^2 = 402 mm2: sigma / sqrt(750) = 0.0018 for the mean, 2.6 % for sigma;
    # the shape's flat triangles add 0.003 mm.
    assert abs(depth[sound].mean()) < 0.009
    assert depth[sound].std() == pytest.approx(sigma, rel=0.06)
    assert np.abs(depth[sound]).max() < 5 * sigma  # no spikes
    rows = np.random.default_rng(5).choice(np.flatnonzero(sound & (scan.vertex_normals[:, 2] > 0.9)), 4000, False)
    apart, d = pdist(scan.vertices[rows]), depth[rows] - depth[rows].mean()
    halves = pdist(d[:, None]) ** 2 / 2  # the variogram's cloud: sigma^2 - covariance
    for lag in (length / 2, length, 2 * length):
        near = np.abs(apart - lag) < 0.4
        correlation = 1 - halves[near].mean() / d.var()
        assert correlation == pytest.approx(np.exp(-(lag**2) / (2 * length**2)), abs=0.09)


@pytest.mark.parametrize("name", AREAS)
def test_scan_holds_the_stated_volumes_with_the_drawn_noise(name, scan, depth):
    area = AREAS[name]
    inside = reach(area, scan.vertices[:, 0], scan.vertices[:, 1]) < 1
    sign = 1 if area["kind"] == "low" else -1
    around = np.bincount(scan.faces.ravel(), np.repeat(scan.area_faces / 3, 3), minlength=len(scan.vertices))
    volume = sign * (depth * around)[inside].sum()
    # 0.01 mm over the area: flat triangles on round walls, and vertices' areas that cross the ellipse.
    assert volume == pytest.approx(area["volume_mm3"] + area["noise_volume_mm3"], abs=0.01 * area["area_mm2"])
    assert (sign * depth[inside]).max() == pytest.approx(area["depth_max_mm"], abs=3 * EXPECTED["noise"]["sigma_mm"])
