"""How far a mirrored body may be off, near its damaged place, against bodies whose sides differ by a known amount."""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.depth.shape_trust import ShapeTrust
from core.place.symmetry import Symmetry, find_symmetry
from core.planning.plan import make_plan
from core.settings import Settings
from core.shape.good_side import good_side
from core.shape.sides_trust import sides_trust, trust_of_image
from core.surface.condition import mend
from core.surface.surface import Floats, Surface
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

SOLDER = pick(Settings.material)
STEP = 8.0
X, Y = (each - half for each, half in zip(grid_points(900, 500, STEP), (450, 250), strict=True))
GOOD = np.array([-300.0, 0.0, 0.0])
CROWN = -(X**2) / 2500 - 25 * (X / 450) ** 4 - Y**2 / 1400 + Y**3 / 1.2e6 + 5 * np.sin(Y / 90)


def body(unlike: Floats, seed: int = 0, sigma: float = 0.03) -> tuple[Surface, Symmetry, ShapeTrust]:
    """The body whose right side is ``unlike`` mm off its left one, its plane, and the trust of its mirror image."""
    noise = noise_field(X.shape, STEP, 0.0, sigma, np.random.default_rng(seed))
    surface, _ = mend(sheet(X, Y, CROWN + noise + np.where(X > 0, unlike, 0.0)), "body")
    found = find_symmetry(surface)
    return surface, found, sides_trust(surface, found)


def test_it_goes_by_the_metal_near_by() -> None:
    """The front half of one side is wavy by 0.25 mm, the rear true: by hand rms 0.25 / sqrt(2) in the one and nothing
    but noise, averaged, in the other. One figure for the body would be wrong for both."""
    wave = 0.25 * np.sin(X / 30) * np.sin(Y / 30) * np.sqrt(2)
    surface, _, trust = body(np.where(Y < 0, wave, 0.0))
    x, y = surface.vertices[:, 0], surface.vertices[:, 1]
    wavy, true = (np.median(trust.trust_mm[(np.abs(x) > 150) & side]) for side in (y < -200, y > 220))
    assert 0.5 * 0.25 / np.sqrt(2) < wavy < 1.1 * 0.25 / np.sqrt(2)  # true metal near by and the fit bring it down
    assert true < 0.45 * wavy


def test_noise_is_not_taken_for_a_difference_of_the_sides() -> None:
    """Alike but for noise of 0.1 mm: over 20 mm, 6 points, it is 0.1 sqrt(2 / 6), and no more may be said."""
    _, _, trust = body(np.zeros_like(X), sigma=0.1)
    assert np.median(trust.trust_mm) < 0.1 * np.sqrt(2 / 6) * 1.2


def test_damage_tells_nothing_of_it() -> None:
    """A dent of 4 mm leaves the figure as it is without one."""
    wave = 0.2 * np.sin(X / 60) * np.cos(Y / 50)
    dent = cosine_dent(X, Y, (250, 0), (60, 60), 4.0)
    (surface, _, whole), (_, _, dented) = body(wave), body(wave - dent)
    at = np.hypot(np.abs(surface.vertices[:, 0]) - 250, surface.vertices[:, 1]) < 60
    assert np.median(dented.trust_mm[at]) == pytest.approx(np.median(whole.trust_mm[at]), rel=0.1)


def test_the_image_of_the_good_half_carries_it_over_the_damage() -> None:
    surface, found, trust = body(-cosine_dent(X, Y, (250, 0), (60, 60), 4.0))
    half = good_side(surface, found, GOOD).surface
    image = trust_of_image(surface, found, half)
    assert image is not None
    assert len(image.trust_mm) == len(half.vertices)
    np.testing.assert_array_equal(np.sort(image.trust_mm), np.sort(trust.trust_mm[half.row_of_input >= 0]))


def run(seed: int) -> tuple[float, float, float]:
    """Volume of the dent, its stated 95 % and its true volume (calculus), planned against the mirrored good side.

    The sides differ at the dent's end of the body and hardly at the other one: no figure of the whole body is right.
    """
    rng = np.random.default_rng(seed)
    end = rng.choice([-1, 1])
    half, middle = rng.uniform(40, 75, 2), (rng.uniform(150, 330), end * rng.uniform(100, 150))
    deep, length, sigma = rng.uniform(2, 5), rng.uniform(80, 150), rng.uniform(0.1, 0.25)
    unlike = noise_field(X.shape, STEP, length, sigma, rng) / (1 + np.exp(-end * Y / 30))
    noise = noise_field(X.shape, STEP, rng.choice([0.0, 8.0, 15.0]), rng.uniform(0.02, 0.06), rng)
    scan = sheet(X, Y, CROWN + unlike + noise - cosine_dent(X, Y, middle, tuple(half), deep))
    surface, _ = mend(scan, "body")
    found = find_symmetry(surface)
    shape = good_side(surface, found, GOOD).surface
    trust = trust_of_image(surface, found, shape)
    plan = make_plan(scan, Surface(shape.vertices, shape.triangles, shape.origin), Settings(), SOLDER, trust=trust)
    areas = [w.area for w in plan.works if w.area.kind == "low"
             and np.hypot(*(np.array(w.area.deepest_point_mm[:2]) - middle)) < half.max()]
    volume, u95 = (areas[0].volume_mm3, areas[0].volume_u95_mm3) if areas else (0.0, 0.0)
    return volume, u95, float(np.pi * half.prod() * deep * (0.5 - 2 / np.pi**2))


@pytest.mark.calibration
def test_the_stated_95_percent_covers_from_scan_to_volume() -> None:
    """24 bodies, seeded; a true 96 % is met by 22 or more of 24 in 93 % of such tests, a true 85 % in 28 % (binomial).
    Of 100 runs 97 were covered; by a plan that takes the image as exact 89, and 20 of these 24.
    """
    runs = np.array([run(seed) for seed in range(24)])
    off = np.abs(runs[:, 0] - runs[:, 2])
    assert (off <= runs[:, 1]).sum() >= 22
    # README's quarter: of the size of the difference between sides, and no more.
    assert 0.2 < np.median(runs[:, 1] / runs[:, 2]) < 0.3
