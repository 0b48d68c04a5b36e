"""What a line-up is worth: which directions a shape holds, and how well."""

from __future__ import annotations

import numpy as np
import pytest

from core.depth.placing import Placing, motion_jacobian
from core.place.registration_covariance import RegistrationCovariance, registration_covariance
from core.statistics.noise import Noise, stated
from core.surface.surface import Floats
from tests.core.shapes import grid_points

X, Y = (a.ravel() for a in grid_points(300, 200, 5))
CELLS = np.full(len(X), 25.0)
WHITE = stated(0.05, 0.0, 25.0)
DOUBT_MM = 5.0


def sphere(radius: float) -> tuple[Floats, Floats]:
    """A cap, with its exact normals."""
    x, y = X - 150, Y - 100
    points = np.stack([x, y, np.sqrt(radius**2 - x**2 - y**2)], axis=1)
    return points, points / radius


def cylinder(radius: float) -> tuple[Floats, Floats]:
    """A trough upside down along x, with its exact normals."""
    y = Y - 100
    points = np.stack([X, y, np.sqrt(radius**2 - y**2)], axis=1)
    return points, points * [0, 1, 1] / radius


def plane() -> tuple[Floats, Floats]:
    return np.stack([X, Y, 0 * X], axis=1), np.stack([0 * X, 0 * X, 0 * X + 1], axis=1)


def box_corner() -> tuple[Floats, Floats]:
    """Three plates square to each other: nothing is left free."""
    points, normals = plane()
    turned = [(np.roll(points, k, axis=1), np.roll(normals, k, axis=1)) for k in range(3)]
    return np.concatenate([p for p, _ in turned]), np.concatenate([n for _, n in turned])


def of(made: tuple[Floats, Floats], noise: Noise = WHITE, prior_sigma_mm: float = DOUBT_MM) -> RegistrationCovariance:
    points, normals = made
    return registration_covariance(points, normals, np.full(len(points), 25.0), noise, prior_sigma_mm)


@pytest.mark.parametrize(
    ("made", "held"), [(plane(), 3), (sphere(400.0), 3), (cylinder(300.0), 4), (box_corner(), 6)],
    ids=["plane", "sphere", "cylinder", "corner"],
)
def test_directions_held(made: tuple[Floats, Floats], held: int) -> None:
    """A plane slides two ways and turns; a sphere turns three ways; a cylinder slides and turns (geometry)."""
    assert of(made).held == held
    # ... wherever the part lies, and however it is turned and how large it is.
    turn = np.linalg.qr(np.random.default_rng(0).standard_normal((3, 3)))[0]
    points, normals = made
    assert of((points @ turn.T + 1e5, normals @ turn.T)).held == held
    assert of((10 * points, normals)).held == held


@pytest.mark.parametrize("made", [plane(), cylinder(300.0), sphere(400.0)], ids=["plane", "cylinder", "sphere"])
def test_what_is_free_is_known_as_well_as_the_start_and_said(made: tuple[Floats, Floats]) -> None:
    found = of(made)
    free = 6 - found.held  # each by the start's doubt, and independent: their squares add up; 95 % of a normal one
    assert found.slide_mm == pytest.approx(1.959964 * DOUBT_MM * np.sqrt(free), rel=0.03)
    assert found.advice is not None
    assert f"can slide by {1.959964 * DOUBT_MM:.1f} mm" in found.advice
    assert "click the handle hole or a corner" in found.advice
    assert any(way in found.advice for way in ("lengthwise", "across", "round about its middle"))
    assert of(made, prior_sigma_mm=0.2).advice is None
    assert of(box_corner()).advice is None


def test_a_trough_slides_lengthwise() -> None:
    points, normals = cylinder(300.0)
    length = np.concatenate([points + [300 * k, 0, 0] for k in range(3)]), np.tile(normals, (3, 1))
    assert "lengthwise" in str(of(length).advice) or "round" in str(of(length).advice)
    # A trough cut across: it slides along its axis, which is now the short way.
    short = points[:, 0] < 40
    assert "across" in str(of((points[short], normals[short])).advice)


@pytest.mark.parametrize("noise", [WHITE, stated(0.05, 6.0, 25.0)], ids=["white", "smooth"])
def test_the_offset_of_a_plate_is_the_noise_over_its_independent_pieces(noise: Noise) -> None:
    """Closed form: sigma sqrt(A_corr / A), A_corr the cell for white noise and 2 pi l^2 for smooth (FACTS 7)."""
    points, normals = plane()
    found = of((points, normals), noise)
    pieces = CELLS.sum() / (25.0 if noise.length_mm == 0 else 2 * np.pi * 36)
    middle = points.mean(axis=0, keepdims=True)
    assert found.placing.at(middle, normals[:1])[0] == pytest.approx(0.05 / np.sqrt(pieces), rel=1e-3)
    # A plane fitted by least squares (textbook): variance at the rim from offset and the two slopes.
    square = 1 / pieces * (1 + 150**2 / np.mean((X - 150) ** 2) + 100**2 / np.mean((Y - 100) ** 2))
    assert found.placing.at(points[:1], normals[:1])[0] == pytest.approx(0.05 * np.sqrt(square), rel=2e-3)


def test_a_volume_s_uncertainty_is_what_many_motions_do_to_it() -> None:
    """The spread of the integral of normal movement, over 20 000 motions drawn with the covariance."""
    points, normals = sphere(400.0)
    placing = of((points, normals)).placing
    patch = (np.hypot(X - 90, Y - 60) < 40).nonzero()[0]
    rng = np.random.default_rng(2)
    motions = rng.multivariate_normal(np.zeros(6), placing.covariance, 20_000)
    local = points[patch] - placing.centre
    moved = np.cross(motions[:, None, :3], local[None]) + motions[:, None, 3:]
    volumes = 25.0 * np.einsum("mpk,pk->m", moved, normals[patch])
    assert placing.of_volume(points[patch], normals[patch], CELLS[patch]) == pytest.approx(volumes.std(), rel=0.02)
    single = np.einsum("mk,k->m", moved[:, 0], normals[patch[0]])
    assert placing.at(points[patch[:1]], normals[patch[:1]])[0] == pytest.approx(single.std(), rel=0.02)


def test_rows_of_the_six_freedoms() -> None:
    """(p x n, n) is how a small turn and shift move p along n (Chen & Medioni 1991), by differences."""
    rng = np.random.default_rng(3)
    p, n, move = rng.standard_normal((3, 1, 3)), rng.standard_normal((3, 1, 3)), rng.standard_normal(6)
    for point, normal in zip(p, n, strict=True):
        moved = (np.cross(move[:3], point) + move[3:]) @ normal[0]
        assert (motion_jacobian(point, normal) @ move)[0] == pytest.approx(moved[0])


def test_nothing_is_uncertain_where_nothing_is() -> None:
    sure = Placing(np.zeros((6, 6)), np.zeros(3))
    points, normals = plane()
    assert sure.at(points, normals).max() == 0
    assert sure.of_volume(points, normals, CELLS) == 0
