"""Thinning: fewer triangles, the same shape."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from core.surface.condition import mend
from core.surface.features import rims
from core.surface.surface import Surface
from core.surface.thin import thin


def ball() -> Surface:
    mesh = trimesh.creation.icosphere(subdivisions=6, radius=100.0)  # 81 920 triangles
    return Surface(np.array(mesh.vertices), np.array(mesh.faces, dtype=np.int64))


def test_a_surface_within_the_limit_is_the_same_object() -> None:
    surface = ball()
    assert thin(surface) is surface


def test_thinned_to_the_limit_and_still_the_same_ball() -> None:
    surface = ball()
    made = thin(surface, limit=10_000)
    assert 3_000 < len(made.triangles) <= 10_000
    mended, _ = mend(made, "panel")
    assert rims(mended) == ()
    # Closed form 4 pi r^2: a cell of 7.1 mm cuts chords, a relative error of the order (7.1/200)^2.
    assert mended.area == pytest.approx(4 * np.pi * 100**2, rel=3 * (7.1 / 200) ** 2)
    # A cell's mean lies under the sphere by no more than its sagitta, 7.1^2 x 3 / (8 x 100).
    radius = np.linalg.norm(made.vertices, axis=1)
    assert radius.max() < 100 + 1e-9
    assert radius.min() > 100 - 0.19
    assert made.row_of_input is not None
    assert np.linalg.norm(made.vertices[made.row_of_input] - surface.vertices, axis=1).max() < 7.1 * 3**0.5
