"""What Carry Through's trust figure is worth on metal that is hard to foretell, and what it warns of there.

Heights over the x-y plane that are known in closed form, dented, noisy, masked: the error is known at each point.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from core.shape.carry_through import Carried, carry_through
from tests.core.shapes import grid_points, noise_field, sheet

STEP_MM, NOISE_MM = 6.0, 0.03
X, Y = (each - half for each, half in zip(grid_points(900, 600, STEP_MM), (450, 300), strict=True))
SEEDS = 5


def roof(x, y):
    return -(x**2) / 9000 - y**2 / 6000


def wing(x, y):
    return 30 * np.cos(x / 260) + 25 * np.sin(y / 190 + 0.4) + x * y / 9000


def bonnet(x, y):
    """An ellipsoid that falls off ever more steeply towards the panel's corners."""
    return 200 * np.sqrt(1 - (x / 620) ** 2 - (y / 520) ** 2)


def folded(x, y):
    """The roof with a side wall that begins at x = 330, folded down by 31 degrees."""
    return roof(x, y) - 0.6 * np.clip(x - 330, 0, None)


def creased(x, y):
    """The roof with a crease of 28 degrees along y = 0."""
    return roof(x, y) - 0.25 * np.abs(y)


def jogged(x, y):
    """The roof with a soft step of 8 mm."""
    return roof(x, y) + 4 * np.tanh((x - 10) / 25)


def lined(x, y):
    """A door with a soft design line of 6 mm along y = 120."""
    return 40 - x**2 / 25_000 - (y + 100) ** 2 / 4000 + 3 * np.tanh((y - 120) / 15)


# Height, middle and half axes of the mask, length of the noise.
EASY = {
    "roof": (roof, (50, -40), (60, 60), 0.0),
    "roof, smooth noise": (roof, (50, -40), (60, 60), 15.0),
    "roof, corner": (roof, (445, 295), (90, 90), 0.0),
    "wing, long": (wing, (50, -40), (150, 50), 0.0),
    "wing, rim": (wing, (440, 0), (70, 70), 0.0),
    "wing, corner": (wing, (445, 295), (90, 90), 0.0),
    "bonnet": (bonnet, (50, -40), (60, 60), 15.0),
    "bonnet, rim": (bonnet, (440, 0), (70, 70), 0.0),
    "beside a fold": (folded, (230, 0), (60, 60), 0.0),
}
HARD = {
    "bonnet, corner": (bonnet, (445, 295), (90, 90), 0.0),
    "at a fold": (folded, (280, 0), (60, 60), 0.0),
    "over a fold": (folded, (310, 0), (60, 60), 0.0),
    "over a crease": (creased, (0, 0), (60, 60), 0.0),
    "over a soft step": (jogged, (0, 0), (60, 60), 0.0),
    "over a design line": (lined, (-150, 60), (120, 120), 0.0),
}


@dataclass(frozen=True)
class Run:
    p95: float
    carried: Carried

    @property
    def covered(self) -> bool:
        return self.p95 <= self.carried.trust_mm

    @property
    def poor(self) -> bool:
        return any("give its line, or mark less" in text for text in self.carried.warnings)


def run(height, middle, half, length, seed, with_lines=True) -> Run:
    away = ((X - middle[0]) / half[0]) ** 2 + ((Y - middle[1]) / half[1]) ** 2
    mask = away < 1
    dent = 4 * np.clip(1 - away, 0, None) ** 2
    sigma = 0.1 if length else NOISE_MM
    noise = noise_field(X.shape, STEP_MM, length, sigma, np.random.default_rng(seed))
    carried = carry_through(sheet(X, Y, height(X, Y) - dent + noise), mask.ravel(), with_lines=with_lines)
    x, y, z = carried.surface.vertices[mask.ravel()].T
    rise = np.hypot(height(x + 0.01, y) - height(x - 0.01, y), height(x, y + 0.01) - height(x, y - 0.01)) / 0.02
    off = np.abs(z - height(x, y)) / np.sqrt(1 + rise**2)  # along the normal, to first order
    return Run(float(np.percentile(off, 95)), carried)


@pytest.fixture(scope="module")
def runs():
    return {name: [run(*case, seed) for seed in range(SEEDS)] for name, case in {**EASY, **HARD}.items()}


@pytest.fixture(scope="module")
def refused():
    """The same with lines refused."""
    return {name: [run(*case, seed, False) for seed in range(SEEDS)] for name, case in HARD.items()}


@pytest.mark.calibration
def test_on_all_kinds_together_it_covers_in_nine_of_ten(runs, refused):
    """A 95 % value must lie above the 95th percentile of the true error; half of the cases are hard on purpose."""
    assert np.mean([each.covered for kind in runs.values() for each in kind]) >= 0.9
    both = [*(runs[name] for name in EASY), *refused.values()]
    assert np.mean([each.covered for kind in both for each in kind]) >= 0.9


@pytest.mark.calibration
def test_on_plain_metal_it_covers_and_is_not_idle(runs):
    assert np.mean([each.covered for name in EASY for each in runs[name]]) >= 0.95
    for name in EASY:
        assert np.median([each.carried.trust_mm for each in runs[name]]) < 1.0, name


@pytest.mark.calibration
@pytest.mark.parametrize("name", HARD)
def test_where_the_metal_bends_it_is_of_the_error_s_size_and_says_what_to_do(refused, name):
    """Errors of 0.5 to 3 mm, of which neighbouring metal shows little: no figure may be less than half of that."""
    for each in refused[name]:
        assert each.carried.trust_mm > each.p95 / 2
    assert np.mean([each.poor for each in refused[name]]) >= 0.8


LINED = [name for name in HARD if name != "bonnet, corner"]


@pytest.mark.calibration
@pytest.mark.parametrize("name", LINED)
def test_a_line_that_goes_on_is_continued(runs, name):
    """Folds, creases, steps and design lines enter and leave the mask: what was 0.5 to 3 mm wrong is right within the
    0.2 mm that a sharp bend cuts on a mesh of 6 mm edges, and it is not warned of."""
    for each in runs[name]:
        assert len(each.carried.lines) == 1
        assert each.p95 < 0.2
        assert each.carried.trust_mm < 0.5
        assert each.carried.warnings == ()


@pytest.mark.calibration
def test_with_lines_it_covers(runs):
    """0.50 before: 30 runs of five kinds, of which a true 90 % gives 24 or more of 25 covered in 27 %, 20 in 96.7 %
    (binomial)."""
    assert sum(each.covered for name in LINED for each in runs[name]) >= 20


@pytest.mark.calibration
@pytest.mark.parametrize("name", ["roof", "wing, long", "beside a fold"])
def test_good_metal_is_not_warned_of(runs, name):
    for each in runs[name]:
        assert each.carried.warnings == ()
        assert each.carried.trust_mm < 0.2


def test_a_crease_with_its_line_is_foretold_well():
    """The warning's own advice: with the line the figure falls from millimetres to the noise."""
    away = np.hypot(X, Y) / 60
    noise = noise_field(X.shape, STEP_MM, 0.0, NOISE_MM, np.random.default_rng(0))
    panel = sheet(X, Y, creased(X, Y) - 4 * np.clip(1 - away**2, 0, None) ** 2 + noise)
    across = np.linspace(-200, 200, 9)
    line = np.stack([across, 0 * across, creased(across, 0 * across)], axis=1)
    carried = carry_through(panel, (away < 1).ravel(), (line,))
    assert carried.trust_mm < 0.3
    assert carried.warnings == ()


@pytest.mark.parametrize(("height", "highest", "within"), [(wing, 8, 0.1), (bonnet, 8, 0.4), (lined, 4, 3.2)])
def test_a_place_too_large_to_be_tried_is_said_to_be_unchecked(height, highest, within):
    """A quarter of the panel: no room for the same fill beside it, so no figure but a warning.

    Where its own metal foretells itself badly, as over a design line, the degree is low as well: degree 4 is what did
    best on a torus (computed for this project). Elsewhere a low one would only lose what the metal shows.
    """
    found = run(height, (20, 0), (230, 190), 0.0, 0, with_lines=False)
    assert np.isnan(found.carried.trust_mm)
    assert found.carried.degrees[0] <= highest
    assert found.p95 < within
    assert "can't be checked" in found.carried.warnings[0]
    assert found.poor == (height is lined)


def test_a_line_goes_on_through_a_place_too_large_to_be_tried():
    """460 mm of a design line are carried on by 300 mm of it on either side; still it can't be checked, and says so."""
    found = run(lined, (20, 0), (230, 190), 0.0, 0)
    assert found.p95 < 0.1
    assert np.isnan(found.carried.trust_mm)
    assert "can't be checked" in found.carried.warnings[0]
