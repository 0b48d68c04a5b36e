"""Chalk: strokes stay near what they follow, keep to the surface, lose no full stop, and look the same every time."""

from __future__ import annotations

import numpy as np
import pytest

from core.map.alphabet import LETTERS, STAND_IN
from core.map.chalk import HALO, STROKE, bands, chalked, evenly, note_strokes, ring, runs, strayed
from core.map.letters import written

UP = np.array([0.0, 0.0, 1.0])


def flat(points: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    line = np.array([(*p, 0.0) for p in points])
    return line, np.tile(UP, (len(line), 1))


def rng() -> np.random.Generator:
    return np.random.default_rng(5)


def test_a_stroke_covers_its_line_and_little_more() -> None:
    strokes = chalked(*flat([(0, 0), (100, 0)]), 10.0, rng())
    vertices, triangles = bands(strokes, halo=False)
    assert np.abs(vertices[:, 1]).max() < 1.2 * STROKE * 10.0
    assert vertices[:, 0].min() == pytest.approx(0.0, abs=1e-9)
    assert vertices[:, 0].max() == pytest.approx(100.0, abs=1e-9)
    assert (vertices[:, 2] > 0).all()  # lifted off the surface, on its outside
    a, b, c = vertices[triangles].transpose(1, 0, 2)
    assert (np.cross(b - a, c - a)[:, 2] > 0).all()
    # The core of the line is hardly broken: common practice, no source.
    middle = np.linspace(1, 99, 197)
    there = [any(s.points[0, 0] <= x <= s.points[-1, 0] for s in strokes if not s.halo) for x in middle]
    assert np.mean(there) > 0.95


def test_the_halo_lies_under_the_chalk_and_is_wider() -> None:
    halo, *core = chalked(*flat([(0, 0), (50, 0)]), 10.0, rng())
    assert halo.halo
    assert not any(stroke.halo for stroke in core)
    assert halo.points[:, 2].max() < min(stroke.points[:, 2].min() for stroke in core)
    assert halo.width == pytest.approx(HALO * STROKE * 10.0)
    # Closed form: a band's area is its length times its width.
    vertices, triangles = bands([halo, *core], halo=True)
    a, b, c = vertices[triangles].transpose(1, 0, 2)
    assert np.linalg.norm(np.cross(b - a, c - a), axis=1).sum() / 2 == pytest.approx(50.0 * HALO * STROKE * 10.0)


@pytest.mark.parametrize("seed", range(20))
def test_a_full_stop_is_never_lost(seed: int) -> None:
    (stop,), _ = written(".")
    points = np.column_stack([stop * 20.0, np.zeros(len(stop))])
    core = [s for s in chalked(points, np.tile(UP, (len(points), 1)), 20.0, np.random.default_rng(seed)) if not s.halo]
    assert len(core) == 3
    assert all(len(stroke.points) >= 4 for stroke in core)


def test_the_same_dice_draw_the_same() -> None:
    line = flat([(0, 0), (30, 10), (60, 0)])
    one, two = (chalked(*line, 8.0, rng()) for _ in range(2))
    assert all(np.array_equal(a.points, b.points) for a, b in zip(one, two, strict=True))


def test_a_hand_strays_by_little_and_not_at_once() -> None:
    line = evenly(np.array([[0.0, 0.0], [400.0, 0.0]]), 0.5)
    away = strayed(line, 20.0, rng()) - line
    assert 0.1 < np.abs(away).max() < 0.15 * 20.0
    assert np.abs(np.diff(away, axis=0)).max() < 0.1  # smooth: a tenth of a millimetre in half a millimetre at most


def test_a_ring_goes_round_outside_and_overlaps() -> None:
    # Closed form: around a circle of radius 50 the ring keeps its distance, and its length is a turn and a bit more.
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    circle = np.column_stack([50 * np.cos(turn), 50 * np.sin(turn), 0 * turn])
    line = ring(circle, np.tile(UP, (90, 1)), 20.0, rng())
    radius = np.hypot(line[:, 0], line[:, 1])
    assert radius.min() > 50.0
    assert radius.max() < 50.0 + 20.0
    angle = np.unwrap(np.arctan2(line[:, 1], line[:, 0]))
    assert 2 * np.pi < abs(angle[-1] - angle[0]) < 2.7 * np.pi


def test_a_ring_around_a_few_points_does_not_fail() -> None:
    corner = np.array([[0.0, 0, 0], [1.0, 0, 0], [0.0, 1.0, 0]])
    assert np.isfinite(ring(corner, np.tile(UP, (3, 1)), 20.0, rng())).all()


def test_evenly_keeps_ends_and_corners_lengths() -> None:
    line = np.array([[0.0, 0.0], [3.0, 0.0], [3.0, 4.0]])
    found = evenly(line, 0.5)
    np.testing.assert_allclose(found[[0, -1]], line[[0, -1]])
    assert len(found) == 15  # 7 long, in steps of a half


def test_every_letter_that_is_chalked_or_numbers_is_there() -> None:
    needed = set("Low High 0123456789 . / mm in True Not Measured")
    assert needed <= set(LETTERS)
    for letter in needed - {" "}:
        strokes, width = written(letter)
        points = np.concatenate(strokes)
        assert points[:, 0].min() > -0.12
        assert points[:, 0].max() < width + 0.12
        assert points[:, 1].max() - points[:, 1].min() > 0.05
    assert written("1 1")[1] > written("11")[1]


def test_notes_stand_beside_their_cross() -> None:
    strokes = note_strokes("Low 4.5 mm", 10.0, rng())
    cross, words = strokes[:2], np.concatenate(strokes[2:])
    assert max(np.abs(stroke).max() for stroke in cross) < 6.0
    assert words[:, 0].min() > max(stroke[:, 0].max() for stroke in cross)


def test_a_note_covers_no_other_as_long_as_there_is_room() -> None:
    """Random notes, one after the other, on a panel of 600 by 400 mm: words never cross those there before."""
    for seed in range(10):
        places, there = np.random.default_rng(seed).uniform((0, 0), (600, 400), (12, 2)), np.empty((0, 2))
        for place in places:
            strokes = note_strokes("Low 4.5 mm", 8.0, rng(), there - place)
            words = np.concatenate(strokes[2:]) + place
            box = words.min(axis=0), words.max(axis=0)
            assert not ((there >= box[0]) & (there <= box[1])).all(axis=1).any()
            there = np.vstack([there, words, np.concatenate(strokes[:2]) + place])


def test_runs_of_all_and_none() -> None:
    assert runs(np.array([True, True])) == [(0, 2)]
    assert runs(np.array([False, False])) == []
    assert bands([], halo=True)[1].shape == (0, 3)


def test_every_letter_and_sign_of_latin_1_is_drawn_and_no_two_alike() -> None:
    """ISO/IEC 8859-1 but for its control characters; signs that a hand writes alike may be."""
    seen: dict[tuple[float, ...], str] = {}
    box = tuple(written("Ж")[0][0].ravel().round(6))
    for code in (*range(0x21, 0x7F), *range(0xA1, 0x100)):
        letter = chr(code)
        strokes, width = written(letter)
        drawn = tuple(np.concatenate(strokes).ravel().round(6)) if strokes else ()
        if letter in "\u00ad¢¤¦¨©¬®¯¶¸":  # no hand chalks them on a panel
            continue
        assert width > 0
        assert drawn not in ((), box), letter
        if letter.isalnum():
            assert drawn not in seen, (letter, seen.get(drawn))
            seen[drawn] = letter


def test_a_letter_that_is_not_known_leaves_a_box_and_never_nothing() -> None:
    (box,), width = written("Ж")
    assert width == pytest.approx(STAND_IN[0])
    assert np.ptp(box, axis=0).min() > 0.4
    assert len(written("Ж1")[0]) == 2
    (one, *accents), _ = written("\u0438\u0306")  # a letter and its accent, as some systems name files
    assert not accents
    np.testing.assert_array_equal(one, box)


def test_an_accent_is_the_same_whether_it_comes_alone_or_in_its_letter() -> None:
    for one, other in zip(written("u\u0308A\u030a")[0], written("üÅ")[0], strict=True):
        np.testing.assert_array_equal(one, other)
