"""Triangles without area, or there twice: gone without a slit, the rest untouched."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given
from hypothesis.extra.numpy import arrays

from core.errors import InputError
from core.surface.features import rims
from core.surface.slivers import without_duplicates, without_slivers
from core.surface.surface import Surface


def plate(n: int = 8, step: float = 1.0) -> Surface:
    x, y = (a.ravel() for a in np.meshgrid(np.arange(n) * step, np.arange(n) * step, indexing="ij"))
    row = np.arange(n * n).reshape(n, n)
    a, b, c, d = row[:-1, :-1].ravel(), row[1:, :-1].ravel(), row[1:, 1:].ravel(), row[:-1, 1:].ravel()
    return Surface(np.stack([x, y, 0 * x], 1), np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))


def capped(surface: Surface, which: np.ndarray, off: float) -> Surface:
    """The triangles ``which`` with a point on (or ``off``) their first side, joined to the side by a flat triangle."""
    a, b, c = surface.triangles[which].T
    middle = len(surface.vertices) + np.arange(len(which))
    points = (surface.vertices[a] + surface.vertices[b]) / 2 + off * (surface.vertices[c] - surface.vertices[a])
    keep = np.ones(len(surface.triangles), dtype=bool)
    keep[which] = False
    halves = [np.stack(t, 1) for t in ((a, middle, c), (middle, b, c), (a, b, middle))]
    return Surface(np.concatenate([surface.vertices, points]), np.concatenate([surface.triangles[keep], *halves]))


@pytest.mark.parametrize("off", [0.0, 1e-8])
def test_caps_go_without_leaving_a_slit(off: float) -> None:
    flat = plate()
    which = np.random.default_rng(0).choice(len(flat.triangles), 40, replace=False)
    bad = capped(flat, which, off)
    made, count = without_slivers(bad, "panel")
    assert count == 40
    assert made.area == pytest.approx(49.0, rel=1e-6)
    assert (made.areas > 1e-3).all()
    loops = rims(made)  # the plate's own outline and no false hole
    assert len(loops) == 1
    assert loops[0].length_mm == pytest.approx(28.0, abs=1e-5)
    assert (made.normals[:, 2] > 0.99).all()


def test_needles_are_closed() -> None:
    flat = plate()
    # One inner point parted in two, 1e-9 mm apart, with two needles in the gap.
    at = 3 * 8 + 3
    around = flat.triangles[(flat.triangles == at).any(axis=1)]
    right = (flat.vertices[around].mean(axis=1)[:, 0] > 3).nonzero()[0]
    rows = np.flatnonzero((flat.triangles == at).any(axis=1))[right]
    triangles = flat.triangles.copy()
    triangles[rows] = np.where(triangles[rows] == at, 64, triangles[rows])
    needles = [[at, 64, at + 1], [64, at, at - 1]]
    bad = Surface(np.concatenate([flat.vertices, flat.vertices[at : at + 1] + [1e-9, 0, 0]]),
                  np.concatenate([triangles, needles]))
    made, count = without_slivers(bad, "panel")
    assert count == 2
    assert len(made.triangles) == 98
    assert len(rims(made)) == 1
    assert made.row_of_input is not None
    np.testing.assert_allclose(made.vertices[made.row_of_input], bad.vertices, atol=2e-9)


def test_repeated_corners_go() -> None:
    flat = plate()
    triangles = np.concatenate([flat.triangles, [[5, 5, 9], [7, 7, 7]]])
    made, count = without_slivers(Surface(flat.vertices, triangles), "panel")
    assert count == 2
    assert made.area == pytest.approx(49.0)


def test_long_narrow_but_real_triangles_stay() -> None:
    # A hem's strip, 1500 mm long and 0.05 mm wide: 3e-5 of its length, a real shape.
    corners = np.array([[0.0, 0, 0], [1500, 0, 0], [1500, 0.05, 0], [0, 0.05, 0]])
    strip = Surface(corners, np.array([[0, 1, 2], [0, 2, 3]]))
    assert without_slivers(strip, "panel") == (strip, 0)


@pytest.mark.parametrize("size", [1e-3, 1.0, 1e4])
def test_size_does_not_matter(size: float) -> None:
    bad = capped(plate(), np.arange(0, 98, 7), 0.0)
    assert without_slivers(Surface(bad.vertices * size, bad.triangles), "panel")[1] == 14


def test_nothing_but_slivers_is_refused() -> None:
    line = Surface(np.arange(12.0).reshape(4, 3), np.array([[0, 1, 2], [1, 2, 3]]))
    with pytest.raises(InputError, match="panel: none of its 2 triangles has an area"):
        without_slivers(line, "panel")


@given(arrays(np.int64, st.tuples(st.integers(1, 60), st.just(3)), elements=st.integers(0, 5)))
def test_duplicates_are_counted_as_sets(triangles: np.ndarray) -> None:
    # Python's own sets of corners, an independent count.
    points = np.random.default_rng(0).normal(size=(6, 3))
    made, count = without_duplicates(Surface(points, triangles))
    once = {tuple(sorted(t)) for t in triangles.tolist()}
    assert count == len(triangles) - len(once)
    left = points[np.sort(triangles, axis=1)]
    assert len(made.triangles) == len(once)
    assert {made.vertices[t].tobytes() for t in np.unique(made.triangles, axis=0)} <= {
        points[list(p)].tobytes() for t in left for p in triangles.tolist()
    }
