"""Two real scans from packages' sources, not shipped and not in any wheel: run by hand, where they lie.

`pip download --no-deps --no-binary :all: small_gicp==1.0.1 potpourri3d==1.4.0`, unpack, and set
SMALL_GICP_DATA to small_gicp's folder data (MIT), SPOT_PLY to spot.ply of potpourri3d (CC0, from memory).
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import pyvista
import trimesh
from scipy.spatial import Delaunay

from core.place.fit import Start
from core.place.line_up import line_up
from core.place.motion import STILL, Motion, small
from core.place.symmetry import find_symmetry
from core.surface.condition import mend
from core.surface.surface import Floats, Surface
from tests.core.place.crowned import target_of

SCALE = 20.0  # millimetres for a metre of street: points then lie as close as a panel's
NEAR_M, FAR_M = 2.0, 25.0


def path_in(variable: str) -> Path:
    """The path that an environment variable names; skips, and says why, where there is none."""
    value = os.environ.get(variable)
    if not value:
        pytest.skip(f"{variable} is not set: the real scan is not checked; see tests/core/place/test_real_pair.py")
    return Path(value)


def street(path: Path) -> Surface:
    """The scan as a sheet seen from the scanner: neighbours in its view joined where they lie on one surface.

    Rings lie 1.33 degrees apart and points in a ring 0.17, so heights are squeezed by eight first. Long triangles
    and those seen at a glance are gaps between things.
    """
    points = np.asarray(pyvista.read(path).points, dtype=np.float64)
    far = np.linalg.norm(points, axis=1)
    points, far = points[(far > NEAR_M) & (far < FAR_M)], far[(far > NEAR_M) & (far < FAR_M)]
    bearing = np.degrees(np.arctan2(points[:, 1], points[:, 0]))
    triangles = Delaunay(np.stack([bearing, np.degrees(np.arcsin(points[:, 2] / far)) / 8], axis=1)).simplices
    corners = points[triangles]
    middle = corners.mean(axis=1)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facing = -np.einsum("ij,ij->i", across, middle) / np.maximum(
        np.linalg.norm(across, axis=1) * np.linalg.norm(middle, axis=1), 1e-12
    )
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (np.abs(facing) > 0.06) & (longest < 0.15 * np.linalg.norm(middle, axis=1))
    turned = np.where((facing < 0)[:, None], triangles[:, ::-1], triangles)
    return mend(Surface(points * SCALE, turned[kept].astype(np.int64)), "scan")[0]


def test_two_scans_of_a_street_against_the_published_transform() -> None:
    """From no motion at all, 0.5 m and 0.7 degrees off, to near the published one, and closer to the other scan.

    Published: data/T_target_source.txt of small_gicp 1.0.1. Measured by hand, in 45 s: 0.024 m and 0.22 degrees apart;
    half of all points then lie nearer than 11 mm, with the published one 18 mm, unmoved 26 mm.
    """
    folder = path_in("SMALL_GICP_DATA")
    matrix = np.loadtxt(folder / "T_target_source.txt")
    published = Motion(matrix[:3, :3], matrix[:3, 3] * SCALE)
    source, target = street(folder / "source.ply"), street(folder / "target.ply")
    assert np.linalg.norm(published.shift) / SCALE > 0.5
    whole = target_of(target, 30.0)
    motion = line_up(source, whole, Start(STILL, 20.0)).motion

    def off_mm(way: Motion) -> float:
        depth = whole.depth(way.of(source.vertices), source.vertex_normals @ way.rotation.T)
        return float(np.median(np.abs(depth.depth_mm[depth.judged])))

    assert off_mm(motion) < off_mm(published) < off_mm(STILL)
    between = motion @ published.inverse()
    assert between.degrees < 0.3
    assert np.linalg.norm(between.shift) / SCALE < 0.05


@pytest.mark.parametrize("noise_mm", [0.02, 0.1])
def test_a_cow_cut_open_shaken_and_dented(noise_mm: float) -> None:
    """0.78 m long, points 13 mm apart; the feet cut off, one flank dented by 29 mm: 0.3 degrees (the issue's limit)."""
    mesh = trimesh.load(path_in("SPOT_PLY"), process=False)
    whole, _ = mend(Surface(np.asarray(mesh.vertices) * 300, np.asarray(mesh.faces, dtype=np.int64)), "body")
    middle = whole.vertices[whole.triangles].mean(axis=1)
    body = whole.part(middle[:, 1] > np.percentile(middle[:, 1], 20))
    far = body.vertices[np.argmax(body.vertices[:, 0])]
    near = np.minimum(np.linalg.norm(body.vertices - far, axis=1) / 86, 1)
    noise = noise_mm * np.random.default_rng(0).standard_normal(len(near))
    moved = body.vertices + (noise - 14.4 * (1 + np.cos(np.pi * near)))[:, None] * body.vertex_normals
    away = small(np.array([0.4, -0.3, 0.8]), np.array([100.0, 0, 50]))
    scan, _ = mend(Surface(away.of(moved), body.triangles), "body")
    plane = find_symmetry(scan).plane
    assert _degrees(plane.normal, away.rotation[:, 0]) < 0.3
    assert abs(float(plane.normal @ (away.shift - scan.origin)) - plane.offset_mm) < 1.0


def _degrees(one: Floats, other: Floats) -> float:
    return float(np.degrees(np.arcsin(np.linalg.norm(np.cross(one, other)))))
