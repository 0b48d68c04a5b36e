"""Seams: what rounding of single precision parts is one, what a gap parts stays two; witness: the whole sheet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from core.bench.materials import pick
from core.files.mesh_file import read
from core.planning.plan import make_plan
from core.settings import Settings
from core.surface.condition import mend
from core.surface.seams import seams_closed
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

WIDTH, HEIGHT, STEP = 1200.0, 600.0, 6.0
X, Y = grid_points(WIDTH, HEIGHT, STEP)
PANEL = sheet(X, Y, -cosine_dent(X, Y, (600, 300), (90, 90), 3.0))


def strips(surface: Surface, count: int, gap_mm: float = 0.0) -> list[Surface]:
    """The sheet cut along x into parts that are ``gap_mm`` apart."""
    middle = surface.corners[0][:, 0] / 3 + surface.corners[1][:, 0] / 3 + surface.corners[2][:, 0] / 3
    part = np.minimum((middle / WIDTH * count).astype(int), count - 1)
    return [Surface(p.vertices + [k * gap_mm, 0, 0], p.triangles)
            for k, p in enumerate(surface.part(part == k) for k in range(count))]


def as_glb(parts: list[Surface], seed: int, path: Path) -> Path:
    """The parts in metres, each a mesh of single precision in a frame of its own, under a node that takes it back."""
    rng = np.random.default_rng(seed)
    scene = trimesh.Scene()
    for k, part in enumerate(parts):
        matrix = np.eye(4)
        matrix[:3, :3] = Rotation.random(random_state=int(rng.integers(2**31))).as_matrix()
        matrix[:3, 3] = rng.uniform(-1, 1, 3)
        own = (part.vertices / 1000 - matrix[:3, 3]) @ matrix[:3, :3]
        mesh = trimesh.Trimesh(own.astype(np.float32), part.triangles, process=False)
        scene.add_geometry(mesh, node_name=f"part {k}", geom_name=f"mesh {k}", transform=matrix)
    scene.export(path)
    return path


@pytest.mark.parametrize("seed", range(10))
def test_nodes_with_transforms_of_their_own_make_one_sheet(seed: int, tmp_path: Path) -> None:
    parts = strips(PANEL, int(np.random.default_rng(seed).integers(2, 7)))
    surface = read(as_glb(parts, seed, tmp_path / "parts.glb"), None, "panel").surface
    made, condition = mend(surface, "panel")
    assert (condition.pieces, len(condition.rims), len(condition.holes)) == (1, 1, 0)
    assert len(made.vertices) == len(PANEL.vertices)
    assert made.area == pytest.approx(PANEL.area, rel=1e-6)
    # One low, with the volume of a cosine dent (calculus).
    plan = make_plan(surface, flat_target(WIDTH, HEIGHT), Settings(), pick("polyester"))
    (work,) = plan.works
    assert work.area.volume_mm3 == pytest.approx(np.pi * 90**2 * 3 * (0.5 - 2 / np.pi**2), rel=0.005)


@pytest.mark.parametrize("gap_mm", [0.2, 0.5])
def test_a_gap_is_left_open(gap_mm: float, tmp_path: Path) -> None:
    surface = read(as_glb(strips(PANEL, 3, gap_mm), 1, tmp_path / "parts.glb"), None, "panel").surface
    assert mend(surface, "panel")[1].pieces == 3


@pytest.mark.parametrize("far_mm", [0.0, 1e4, 1e5])
def test_an_stl_file_far_from_the_origin(far_mm: float, tmp_path: Path) -> None:
    # Each part moved apart and back by an exporter that works in single precision, as its rounding leaves it.
    rng = np.random.default_rng(3)
    corners = []
    for part in strips(PANEL, 4):
        turn = Rotation.from_rotvec(rng.normal(0, 1, 3)).as_matrix()
        there = (part.vertices @ turn.T).astype(np.float32).astype(float)
        back = (there @ turn + [far_mm, -far_mm, far_mm / 2]).astype(np.float32)
        corners.append(back[part.triangles].reshape(-1, 3))
    soup = np.concatenate(corners)
    trimesh.Trimesh(soup, np.arange(len(soup)).reshape(-1, 3), process=False).export(tmp_path / "far.stl")
    made, condition = mend(read(tmp_path / "far.stl", "mm", "panel").surface, "panel")
    assert condition.pieces == 1
    assert len(made.vertices) == len(PANEL.vertices)


@pytest.mark.parametrize("seed", range(20))
def test_what_the_mesh_tells_apart_stays_apart(seed: int) -> None:
    # Fine sheets whose own sides are near what rounding parts: nothing folds up, no triangle goes.
    rng = np.random.default_rng(seed)
    x, y = grid_points(1.0, 1.0, 0.05)
    fine = sheet(x + 900, y, rng.normal(0, 0.002, x.shape))
    assert seams_closed(fine) is fine
    shaken: Floats = fine.vertices + rng.uniform(-0.003, 0.003, fine.vertices.shape)
    both = Surface(np.concatenate([fine.vertices, shaken + [1.0, 0, 0]]),
                   np.concatenate([fine.triangles, fine.triangles + len(fine.vertices)]))
    made = seams_closed(both)
    assert len(made.triangles) == len(both.triangles)
    assert (made.areas > 0).all()
    assert np.abs(made.vertices[made.row_of_input if made.row_of_input is not None else slice(None)]
                  - both.vertices).max() <= 1.5e-5 * 902
