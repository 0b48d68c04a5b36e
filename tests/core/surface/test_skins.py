"""Skins of sheet metal scanned from both sides: which faces are whose is known from how the scene was made."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.errors import InputError
from core.surface.skins import Skins, skins, with_walls
from core.surface.surface import Surface
from tests.core import shapes
from tests.seeds import seeds


def both(seed: int, noise_mm: float) -> tuple[Surface, np.ndarray]:
    """A wavy sheet scanned from both sides, triangles in any order, and 0 (outer), 1 (inner) or 2 (wall) of each."""
    rng = np.random.default_rng(seed)
    x, y = shapes.grid_points(120, 100, 2.0)
    z = rng.uniform(1, 4) * np.sin(x / rng.uniform(12, 30)) * np.cos(y / rng.uniform(12, 30))
    points, faces = shapes.lidded(shapes.sheet(x, y, z), rng.uniform(0.6, 3.0))
    skin = len(shapes.grid_rows(*x.shape))
    kind = np.repeat([1, 0, 2], [skin, skin, len(faces) - 2 * skin])
    order = rng.permutation(len(faces))
    return Surface(points + rng.normal(0, noise_mm, points.shape), faces[order]), kind[order]


def told(found: Skins | None) -> Skins:
    assert found is not None
    return found


@pytest.mark.parametrize("seed", seeds(20, 6))
@pytest.mark.parametrize("noise_mm", [0.0, 0.05])
def test_each_face_is_told_by_itself(seed: int, noise_mm: float) -> None:
    panel, kind = both(seed, noise_mm)
    found = told(skins(panel, "panel"))
    assert set(found.part) <= {-1, 0}
    side = found.side[(kind == 0) & (found.part == 0)]
    assert (side == side[0]).all()
    assert (found.side[(kind == 1) & (found.part == 0)] == 1 - side[0]).all()
    assert panel.areas[(kind < 2) & (found.part == 0)].sum() > 0.9 * panel.areas[kind < 2].sum()
    inner = (found.part == 0) & (found.side != side[0])
    dropped = with_walls(found, inner)
    assert dropped[kind > 0].all()
    assert panel.areas[dropped & (kind == 0)].sum() < 0.005 * panel.areas[kind == 0].sum()


@pytest.mark.parametrize("seed", range(5))
def test_a_sheet_scanned_from_one_side_has_no_skins(seed: int) -> None:
    panel, kind = both(seed, 0.02)
    assert skins(panel.part(kind == 0), "panel") is None


@pytest.mark.parametrize("gap_mm", [1.0, 2.0, 3.5])
def test_a_hem_is_no_second_skin(gap_mm: float) -> None:
    # A flange of 15 mm folded back under a sheet 200 mm wide.
    line = np.arange(0.0, 201.0, 1.0)
    flange = np.arange(15.0, 0.0, -1.0)
    x, z = np.append(flange, line), np.append(np.full(15, -gap_mm), 0 * line)
    assert skins(shapes.extruded(x, z, np.arange(0.0, 101.0, 2.0)), "panel") is None


def test_a_thick_body_has_no_skins() -> None:
    box = trimesh.creation.box(extents=(200, 100, 4.5)).subdivide_to_size(8.0)
    assert skins(Surface(np.array(box.vertices), np.array(box.faces, dtype=np.int64)), "panel") is None


def test_skins_that_run_into_one_another_are_refused() -> None:
    # A tube pressed flat that goes on into itself through a twist: each face's other side is itself.
    n, m = 240, 12
    turn, across = np.meshgrid(np.arange(n) * 2 * np.pi / n, np.linspace(-10, 10, m), indexing="ij")
    radius = 60 + across * np.cos(turn / 2)
    middle = np.stack([radius * np.cos(turn), radius * np.sin(turn), across * np.sin(turn / 2)], -1)
    along = np.gradient(np.concatenate([middle[-2:, ::-1], middle, middle[:2, ::-1]]), axis=0)[2:-2]
    normal = np.cross(along, np.gradient(middle, axis=1))
    normal /= np.linalg.norm(normal, axis=2, keepdims=True)
    points = np.concatenate([middle + normal, (middle - normal)[:, ::-1]])  # twice round is once round the tube
    row = np.arange(2 * n * m).reshape(2 * n, m)
    after = np.roll(row, -1, axis=0)
    a, b, c, d = row[:, :-1].ravel(), after[:, :-1].ravel(), after[:, 1:].ravel(), row[:, 1:].ravel()
    band = Surface(points.reshape(-1, 3), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))
    with pytest.raises(InputError, match="panel: it was scanned from both sides"):
        skins(band, "panel")
