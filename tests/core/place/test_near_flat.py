"""Roofs with a crown of metres: what their surface does not hold stays where it started, and is stated for what it is.

Panels are drawn at random: their size and crown, a shape as designed with facets of any length or itself a scan, noise
that agrees over nothing or over centimetres, dents. They start off by just what the start is said to be off by, in all
six freedoms, so that the stated 95 % has to cover 95 % whether surface or start knows more.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pytest

from core.place.fit import InitialPose, Target
from core.place.motion import Motion, small
from core.place.register import Registered, register
from core.surface.nearest import Tree
from core.surface.surface import Floats, Surface
from tests.core.shapes import Height, cosine_dent, grid_points, noise_field, sheet

pytestmark = pytest.mark.calibration

RUNS, DOUBT_MM, PAST_MM = 100, 5.0, 60.0


@dataclass(frozen=True)
class Roof:
    """A roof: the ``shape``, the exact ``height`` that its facets keep to in the mean, the scan, where its points
    should be (n, 3), and its damage (n,)."""

    shape: Surface
    height: Height
    panel: Surface
    sound: Floats
    dent_mm: Floats


def roof(rng: np.random.Generator, kind: str) -> Roof:
    """``kind``: "designed" or "scanned", which the shape is; some 3000 points each."""
    width, depth = rng.uniform(500, 1300), rng.uniform(400, 900)
    radius, other = np.exp(rng.uniform(np.log(2500), np.log(20_000), 2))
    step = width / 60

    def height(x: Floats, y: Floats) -> Floats:
        return -((x - width / 2) ** 2) / (2 * radius) - (y - depth / 2) ** 2 / (2 * other)

    its = step * (rng.uniform(1.0, 3.0) if kind == "designed" else rng.uniform(0.7, 0.9))  # not the scan's grid
    under = its**2 / 12 * (1 / radius + 1 / other)  # a facet's mean below the crown through its corners (calculus)
    x, y = (values - PAST_MM for values in grid_points(width + 2 * PAST_MM, depth + 2 * PAST_MM, its))
    bumps = noise_field(x.shape, its, step, rng.uniform(0.02, 0.06), rng) if kind == "scanned" else 0.0
    shape = sheet(x, y, height(x, y) + bumps)
    x, y = grid_points(width, depth, step)
    x, y = x + 0.3, y + 0.6
    noise = noise_field(x.shape, step, rng.choice([0.0, step]), rng.uniform(0.03, 0.08), rng)
    dent = np.zeros_like(x)
    for _ in range(rng.integers(0, 4)):
        half, place = rng.uniform(50, 100), rng.uniform([120, 120], [width - 120, depth - 120])
        dent += cosine_dent(x, y, tuple(place), (half, half), rng.uniform(1, 5) * rng.choice([1, 1, -1]))
    sound = np.stack([x, y, height(x, y)], axis=-1).reshape(-1, 3)
    return Roof(shape, lambda x, y: height(x, y) - under, sheet(x, y, height(x, y) - dent + noise), sound, dent.ravel())


def about(middle: Floats, turn: Floats, shift: Floats) -> Motion:
    """A turn about ``middle`` and a shift."""
    turned = small(turn, np.zeros(3))
    return Motion(turned.rotation, middle + shift - turned.rotation @ middle)


@dataclass(frozen=True)
class Found:
    """A line-up, and in each of the freedoms along the sheet (slide along, across, and turn) how far it is wrong and
    the standard uncertainty that is stated; ``wrong_mm`` (n,) is height over the exact shape, on sound metal;
    ``wrong_mm3`` what that makes of the volume over the damage, or over the middle of a roof that has none."""

    fit: Registered
    along: Floats
    stated: Floats
    wrong_mm: Floats
    stated_mm: Floats
    wrong_mm3: float
    stated_mm3: float


def run(seed: int, kind: str) -> Found:
    rng = np.random.default_rng([seed, 12])
    made = roof(rng, kind)
    middle = made.sound.mean(axis=0)
    span = float(np.sqrt(np.mean(np.sum((made.sound - middle) ** 2, axis=1))))
    away = about(middle, rng.standard_normal(3) * 0.1, rng.standard_normal(3) * 30)
    doubt = about(middle, rng.standard_normal(3) * DOUBT_MM / span, rng.standard_normal(3) * DOUBT_MM)
    start = InitialPose(doubt @ away.inverse(), DOUBT_MM)
    fit = register(away.surface(made.panel), Target(made.shape, Tree(made.shape), 60.0), start)
    left = fit.motion @ away
    placed = left.of(made.sound)
    x, y, z = placed.T
    slopes = [(made.height(x + 1, y) - made.height(x - 1, y)) / 2, (made.height(x, y + 1) - made.height(x, y - 1)) / 2]
    normals = np.stack([-slopes[0], -slopes[1], np.ones_like(x)], axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    clean = made.dent_mm == 0
    shift = left.of(middle[None])[0] - middle
    placing = fit.covariance.placing
    lever = np.hstack([-cross_matrix(middle - placing.centre), np.eye(3)])  # of the middle's shift on the six
    sure = np.sqrt(np.diag(lever @ placing.covariance @ lever.T))
    wrong, cells = (z - made.height(x, y)) * normals[:, 2], made.panel.vertex_areas
    work = ~clean if (~clean).any() else np.linalg.norm(made.sound - middle, axis=1) < 100
    return Found(
        fit, np.array([*shift[:2], left.vector()[2]]), np.array([*sure[:2], np.sqrt(placing.covariance[2, 2])]),
        wrong[clean], placing.at(placed, normals)[clean], float(cells[work] @ wrong[work]),
        placing.of_volume(placed[work], normals[work], cells[work]),
    )


def cross_matrix(a: Floats) -> Floats:
    """The matrix (3, 3) of a x, textbook."""
    return np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])


@pytest.fixture(scope="module", params=["designed", "scanned"])
def runs(request: pytest.FixtureRequest) -> list[Found]:
    return [run(seed, request.param) for seed in range(RUNS)]


def test_every_line_up_settles(runs: list[Found]) -> None:
    assert [seed for seed, one in enumerate(runs) if any("still moved" in text for text in one.fit.warnings)] == []


@pytest.mark.parametrize("way", [0, 1, 2], ids=["along", "across", "round"])
def test_the_stated_95_percent_covers_along_the_sheet(runs: list[Found], way: int) -> None:
    """Source: a normal distribution's 1.96; chance leaves 100 runs below 0.90 once in thirty."""
    over = np.array([abs(one.along[way]) / one.stated[way] for one in runs])
    assert 0.90 <= np.mean(over <= 1.959964) <= 1.0
    assert 0.5 < np.sqrt(np.mean(over**2)) < 1.25  # 1 where what is stated is what it is


def test_over_all_ways_the_stated_95_percent_covers_95(runs: list[Found]) -> None:
    over = np.array([np.abs(one.along) / one.stated for one in runs])
    assert 0.90 <= np.mean(over <= 1.959964) <= 0.99


def test_depth_does_not_suffer(runs: list[Found]) -> None:
    """Whichever way it slid, sound metal lies where it should, and as closely as is stated."""
    assert max(np.abs(one.wrong_mm).max() for one in runs) < 0.1
    within = [np.mean(np.abs(one.wrong_mm) <= one.fit.noise.factor_95 * one.stated_mm) for one in runs]
    assert 0.90 <= np.mean(within) <= 1.0


def test_volume_does_not_suffer(runs: list[Found]) -> None:
    within = [abs(one.wrong_mm3) <= one.fit.noise.factor_95 * one.stated_mm3 for one in runs]
    assert 0.90 <= np.mean(within) <= 1.0


def test_what_is_not_held_is_said_with_the_way_and_what_it_does_to_depth(runs: list[Found]) -> None:
    for one in runs:
        if one.stated[:2].max() > 1.0:
            (told,) = [text for text in one.fit.warnings if "can slide by" in text]
            assert any(way in told for way in ("lengthwise", "across", "round about its middle"))
            (changes,) = re.findall(r"which changes depths on sound metal by ([0-9.]+) mm at most", told)
            assert float(changes) < 0.2


def test_the_worst_slides_are_no_larger_than_the_start(runs: list[Found]) -> None:
    """A start known to 5 mm is off by less than 17 mm in 180 draws but once in eight such tests (normal, 3.4 sigma)."""
    assert max(np.abs(one.along[:2]).max() for one in runs) < 3.4 * DOUBT_MM
