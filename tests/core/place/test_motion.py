"""Rigid motions, and the best one between matching points."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation
from trimesh.registration import procrustes

from core.errors import InputError
from core.place.motion import STILL, Motion, _least_squares, from_pairs, small

CORNERS = np.array([[0.0, 0, 0], [400, 0, 10], [400, 300, 0], [0, 300, -20], [200, 150, 35]])


def motions(count: int, far_mm: float = 100_000.0) -> list[Motion]:
    """Turns over all of space, and shifts of up to 100 m, some of them of that very size."""
    rng = np.random.default_rng(4)
    turns = Rotation.random(count, random_state=rng).as_matrix()
    shifts = far_mm * rng.uniform(-1, 1, (count, 3))
    shifts[::3] = np.sign(shifts[::3]) * far_mm
    return [Motion(turn, shift) for turn, shift in zip(turns, shifts, strict=True)]


# Umeyama 1991, PAMI 13:376: data from memory; with scale 1 the mean square error is 0.61975 (calculation, FACTS 10).
UMEYAMA = np.array([[0.0, 0, 0], [1, 0, 0], [0, 2, 0]]), np.array([[0.0, 0, 0], [-1, 0, 0], [0, 2, 0]])


def test_umeyamas_example_in_the_plane() -> None:
    """Mirrored by nature, so a missing determinant check shows. Two posts through the middle keep it in its plane."""
    posts = np.array([[0.0, 0, 100], [0, 0, -100]])
    x, y = (np.concatenate([p, posts + p.mean(axis=0)]) for p in UMEYAMA)
    found, misfit = _least_squares(x, y, mirrored=False)
    np.testing.assert_allclose(found.rotation[:2, :2], [[0.83205, 0.55470], [-0.55470, 0.83205]], atol=1e-5)
    assert np.mean(np.sum((found.of(x[:3]) - y[:3]) ** 2, axis=1)) == pytest.approx(0.61975, abs=1e-5)
    assert misfit**2 * 5 / 3 == pytest.approx(0.61975, abs=1e-5)
    mirror, misfit = _least_squares(x, y, mirrored=True)
    assert np.linalg.det(mirror.rotation) == pytest.approx(-1.0)
    assert misfit < 1e-12
    with pytest.raises(InputError, match="only as a mirror image"):
        from_pairs(*(np.concatenate([p, posts / 50 + p.mean(axis=0)]) for p in UMEYAMA))


def test_umeyamas_example_in_space_turns_over() -> None:
    """Three points can't tell: half a turn about the y axis takes one triangle to the other."""
    found = from_pairs(*UMEYAMA)
    np.testing.assert_allclose(found.rotation, np.diag([-1.0, 1, -1]), atol=1e-12)
    assert np.abs(found.of(UMEYAMA[0]) - UMEYAMA[1]).max() < 1e-12


def test_a_hundred_motions_are_found_again() -> None:
    for motion in motions(100):
        found = from_pairs(CORNERS, motion.of(CORNERS))
        # At 100 m float64 goes in steps of 1.5e-11 mm; the points' middle and its way back lose a few of those.
        assert np.abs(found.of(CORNERS) - motion.of(CORNERS)).max() < 1e-8
        assert np.abs(found.inverse().of(motion.of(CORNERS)) - CORNERS).max() < 1e-8
        assert (found @ motion.inverse()).degrees < 1e-5


def test_noisy_pairs_agree_with_trimesh_and_scipy() -> None:
    rng = np.random.default_rng(1)
    for motion in motions(20, 500.0):
        partners = motion.of(CORNERS) + rng.uniform(-5, 5, CORNERS.shape)
        found = from_pairs(CORNERS, partners)
        matrix, _, _ = procrustes(CORNERS, partners, reflection=False, scale=False)
        np.testing.assert_allclose(found.matrix(), matrix, atol=1e-9)
        turn, _ = Rotation.align_vectors(partners - partners.mean(axis=0), CORNERS - CORNERS.mean(axis=0))
        np.testing.assert_allclose(found.rotation, turn.as_matrix(), atol=1e-9)


def test_points_in_one_plane_never_mirror() -> None:
    flat = CORNERS * [1, 1, 0]
    for motion in motions(20):
        found = from_pairs(flat, motion.of(flat))
        assert np.linalg.det(found.rotation) == pytest.approx(1.0, abs=1e-9)
        assert np.abs(found.of(flat) - motion.of(flat)).max() < 1e-8


@pytest.mark.parametrize("wrong_mm", [0.0, 5.0])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_mirrored_pairs_are_refused(axis: int, wrong_mm: float) -> None:
    """Also where each point is clicked 5 mm wrong, on points that are well out of one plane."""
    deep = CORNERS + np.array([[0, 0, 0], [0, 0, 90], [0, 0, 0], [0, 0, 90], [0, 0, 200]])
    sign = np.ones(3)
    sign[axis] = -1
    rng = np.random.default_rng(axis)
    with pytest.raises(InputError, match="only as a mirror image; check left and right"):
        from_pairs(deep, motions(1, 500.0)[0].of(deep * sign) + rng.uniform(-wrong_mm, wrong_mm, deep.shape))


@pytest.mark.parametrize(
    ("points", "partners", "words"),
    [
        (CORNERS[:2], CORNERS[:2], "2 and 2 points came; three or more pairs"),
        (CORNERS[:4], CORNERS[:3], "4 and 3 points came"),
        (np.empty((0, 3)), np.empty((0, 3)), "0 and 0 points"),
        (np.outer([0, 1, 2.5], [3, 4, 5.0]), CORNERS[:3], "on one line"),
        (CORNERS[:3], np.outer([0, 1, 2.5], [3, 4, 5.0]), "on one line"),
        (np.ones((4, 3)), CORNERS[:4], "on one line"),
        (np.array([[0, 0, 0], [400, 0, 0], [200, 3.0, 0]]), CORNERS[:3], "on one line"),
    ],
)
def test_pairs_that_can_t_serve_are_refused(points: np.ndarray, partners: np.ndarray, words: str) -> None:
    with pytest.raises(InputError, match=words):
        from_pairs(points, partners)


@given(st.lists(st.floats(-3, 3), min_size=3, max_size=3), st.lists(st.floats(-1e5, 1e5), min_size=3, max_size=3))
def test_there_and_back(turn: list[float], shift: list[float]) -> None:
    motion = small(np.array(turn), np.array(shift))
    np.testing.assert_allclose((motion @ motion.inverse()).matrix(), np.eye(4), atol=1e-9)
    four = np.append(CORNERS[4], 1.0)
    np.testing.assert_allclose(motion.of(CORNERS)[4], (motion.matrix() @ four)[:3], atol=1e-9)
    assert motion.degrees == pytest.approx(np.degrees(_angle(np.linalg.norm(turn))), abs=1e-5)


def _angle(radians: float) -> float:
    """The same turn the short way round, radians."""
    around = radians % (2 * np.pi)
    return float(min(around, 2 * np.pi - around))


def test_standing_still_moves_nothing() -> None:
    assert STILL.degrees == 0
    np.testing.assert_array_equal(STILL.of(CORNERS), CORNERS)
