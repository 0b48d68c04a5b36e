"""A panel brought onto its shape from any frame, with and without landmarks."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from core.errors import InputError
from core.place.motion import Motion
from core.place.onto import Landmarks, Onto, onto, read_landmarks
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core.place.crowned import odd_panel, odd_shape
from tests.core.shapes import grid_points, sheet
from tests.seeds import cases

SHAPE = odd_shape(3.0)
TREE = Tree(SHAPE)
PANEL = odd_panel(6.0)
PICKED = [0, 33, 50 * 34, 51 * 34 - 1, 25 * 34 + 17]  # the corners and the middle, 51 x 34 points


def clicked(away: Motion, wrong_mm: float = 5.0, seed: int = 0) -> Landmarks:
    """Five pairs, each wrong by up to ``wrong_mm``."""
    off = np.random.default_rng(seed).standard_normal((5, 3))
    off *= wrong_mm / np.linalg.norm(off, axis=1, keepdims=True)
    return Landmarks(away.of(PANEL.vertices[PICKED]) + off, PANEL.vertices[PICKED])


def placed(found: Onto) -> Floats:
    """Where it lies, in the shape's file's frame."""
    return found.panel.vertices + found.panel.origin


@pytest.mark.calibration
def test_a_hundred_motions_up_to_100_m_give_one_place() -> None:
    """The same scan in 100 frames: one place, known to far better than its own 95 %; and the way there."""
    rng = np.random.default_rng(7)
    turns = Rotation.random(100, random_state=rng).as_matrix()
    shifts = rng.choice([-1.0, 1.0], (100, 3)) * 10.0 ** rng.uniform(0, 5, (100, 3))
    shifts[:5] = [1e5, -1e5, 1e5]
    first = None
    for k, (turn, shift) in enumerate(zip(turns, shifts, strict=True)):
        away = Motion(turn, shift)
        scan = away.surface(PANEL).about(away.of(PANEL.vertices).mean(axis=0))
        found = onto(scan, SHAPE, TREE, clicked(away, seed=k % 3))
        first = first or found
        assert np.abs(placed(found) - placed(first)).max() < 0.02
        assert np.abs(found.motion.of(away.of(PANEL.vertices)) - placed(found)).max() < 1e-6
        assert found.sureness is None
    true = PANEL.vertices
    assert np.abs(placed(found) - true).max() < 0.1


def test_without_landmarks_it_is_found_and_sure() -> None:
    away = Motion(Rotation.from_rotvec([1.2, -0.7, 2.0]).as_matrix(), np.array([1000.0, -200, 500]))
    found = onto(away.surface(PANEL), SHAPE, TREE)
    assert np.abs(placed(found) - PANEL.vertices).max() < 0.1
    assert found.sureness is not None
    assert found.sureness > 3
    assert found.warnings == ()


@pytest.mark.parametrize("with_landmarks", [True, False])
def test_progress_never_goes_back(with_landmarks: bool) -> None:
    shares: list[float] = []
    away = Motion(Rotation.from_rotvec([1.2, -0.7, 2.0]).as_matrix(), np.array([1000.0, -200, 500]))
    onto(away.surface(PANEL), SHAPE, TREE, clicked(away) if with_landmarks else None,
         progress=lambda share, _step: shares.append(share))
    assert len(shares) > 5
    assert np.diff(shares).min() >= 0
    assert 0 <= shares[0] <= shares[-1] <= 1


def test_y_up_is_only_a_turn() -> None:
    """(x, y, z) of a scan with Y up is (x, z, -y) of one with Z up."""
    y_up = Surface(PANEL.vertices[:, [0, 2, 1]] * [1, 1, -1], PANEL.triangles)
    found = onto(y_up, SHAPE, TREE)
    np.testing.assert_allclose(found.motion.rotation, [[1, 0, 0], [0, 0, -1], [0, 1, 0]], atol=1e-3)


@pytest.mark.parametrize("with_landmarks", [True, False])
def test_a_panel_wound_inside_out_is_turned(with_landmarks: bool) -> None:
    away = Motion(Rotation.from_rotvec([1.2, -0.7, 2.0]).as_matrix(), np.array([1000.0, -200, 500]))
    wound = away.surface(Surface(PANEL.vertices, PANEL.triangles[:, ::-1]))
    found = onto(wound, SHAPE, TREE, clicked(away) if with_landmarks else None)
    assert np.abs(placed(found) - PANEL.vertices).max() < 0.1
    assert len(found.turned) == 1
    assert found.panel.normals[:, 2].mean() > 0.9


@pytest.mark.parametrize("axis", cases([0, 1], 0))
def test_the_other_side_s_panel_is_refused(axis: int) -> None:
    """A panel from the other side of the car, or a scan with an axis the wrong way: no turn makes it fit."""
    sign = np.ones(3)
    sign[axis] = -1
    other = Surface(PANEL.vertices * sign + [400, 0, 20], PANEL.triangles[:, ::-1])
    with pytest.raises(InputError, match="mirror image"):
        onto(other, SHAPE, TREE)


def test_an_even_panel_is_warned_of() -> None:
    """Turned half round it fits as well: nobody can tell, so it says so; with landmarks there is no doubt."""
    x, y = grid_points(300, 200, 6)
    even = sheet(x, y, -((x - 150) ** 2) / 700 - (y - 100) ** 2 / 500)
    found = onto(even, even, Tree(even))
    assert any("another turn fits nearly as well" in warning for warning in found.warnings)
    sure = onto(even, even, Tree(even), Landmarks(even.vertices[PICKED], even.vertices[PICKED]))
    assert not any("another turn" in warning for warning in sure.warnings)
    np.testing.assert_allclose(sure.panel.vertices, even.vertices, atol=0.02)


def test_shapes_that_can_t_meet_are_refused() -> None:
    x, y = grid_points(8000, 6000, 400)
    with pytest.raises(InputError, match="line-up: no turn brings|as sound metal"):
        onto(PANEL, sheet(x, y, (x - 4000) ** 2 / 3000), Tree(sheet(x, y, (x - 4000) ** 2 / 3000)))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "it holds 0 pairs of points; three or more"),
        ("0 0 0 1 1 1\n1 0 0 2 1 1", "it holds 2 pairs"),
        ("0 0 0 1 1 1\n1 0 0 2 1\n0 1 0 1 2 1", "line 2 holds 5 numbers; six are wanted"),
        ("# a\n\n0 0 0 1 1 1 1", "line 3 holds 7 numbers"),
        ("0 0 0 1 1 x", "line 1 is not six numbers"),
        ("0 0 0 1 1 nan\n1 0 0 2 1 1\n0 1 0 1 2 1", "not finite"),
        ("0 0 0 1 1 inf\n1 0 0 2 1 1\n0 1 0 1 2 1", "not finite"),
        ("0,5 0 0 1 1 1\n1 0 0 2 1 1\n0 1 0 1 2 1", "line 1 holds 7 numbers"),
    ],
)
def test_landmark_files_that_can_t_serve(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        read_landmarks(text, "points.txt", 1.0, 1.0)
    assert str(caught.value).startswith("points.txt: ")


def test_landmark_files_in_their_own_units() -> None:
    text = "\ufeff1 2 3 4 5 6 # a corner\r\n  \r\n1.5,2,3,4,5,6e0\r\n#\n-1 0 0; 1 2 3".replace(";", ",")
    found = read_landmarks(text.lstrip("\ufeff"), "points.txt", 1000.0, 25.4)
    np.testing.assert_allclose(found.panel, np.array([[1, 2, 3], [1.5, 2, 3], [-1, 0, 0]]) * 1000)
    np.testing.assert_allclose(found.target, np.array([[4, 5, 6], [4, 5, 6], [1, 2, 3]]) * 25.4)
