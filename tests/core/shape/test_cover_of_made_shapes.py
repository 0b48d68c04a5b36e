"""From a raw scan to a volume against the shape that was carried through on it: its 95 % covers.

Truth: cosine dents in closed form (calculus) in panels that are known in closed form; noise by scipy.
"""

from __future__ import annotations

import numpy as np
import pytest

from core.bench.materials import pick
from core.planning.plan import make_plan
from core.settings import Settings
from core.shape.carry_through import carry_through
from core.shape.suggest import suggested_damage
from tests.core.shape.test_trust_of_fill import bonnet, roof, wing
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

pytestmark = pytest.mark.calibration

SOLDER = pick(Settings.material)
STEP = 5.0
X, Y = (each - half for each, half in zip(grid_points(700, 500, STEP), (350, 250), strict=True))
RUNS = {True: (20, 16), False: (12, 11)}  # of each kind, noisy or exact, how many are run and how many must cover


def run(seed: int, noisy: bool, marked: bool) -> tuple[float, float, float]:
    """Fill, its stated 95 % and the true volume, mm3. What is marked by hand has 8 to 18 mm of sound metal around."""
    rng = np.random.default_rng(seed)
    height = [roof, wing, bonnet][rng.integers(3)]
    half, middle = rng.uniform(35, 70, 2), rng.uniform(-1, 1, 2) * [180, 110]
    deep = rng.uniform(1.5, 5)
    noise = noise_field(X.shape, STEP, [0.0, 8.0, 15.0][rng.integers(3)], rng.uniform(0.02, 0.06), rng)
    scan = height(X, Y) - cosine_dent(X, Y, tuple(middle), tuple(half), deep) + (noise if noisy else 0.0)
    panel = sheet(X, Y, scan)
    away = np.hypot((X - middle[0]) / half[0], (Y - middle[1]) / half[1])
    mask = (away < 1 + rng.uniform(8, 18) / half.min()).ravel() if marked else suggested_damage(panel)
    carried = carry_through(panel, mask)
    plan = make_plan(panel, carried.surface, Settings(), SOLDER, trust=carried.trust)
    return plan.totals.fill_mm3, plan.totals.fill_u95_mm3, float(np.pi * half.prod() * deep * (0.5 - 2 / np.pi**2))


@pytest.mark.parametrize("marked", [True, False], ids=["marked", "suggested"])
@pytest.mark.parametrize("noisy", [True, False], ids=["noisy", "exact"])
def test_it_covers_and_is_not_idle(noisy: bool, marked: bool) -> None:
    """With noise a true 90 % gives 16 or more of 20 in 95.7 % of such tests, a true 60 % in 5.1 %; without, a true 98 %
    gives 11 or more of 12 in 97.7 %, a true 60 % in 2.0 % (binomial).

    Of the volume a twelfth or less is doubted with noise, a thousandth without: what the fill was really off by, at the
    worst, in as many runs. And none is off by more than twice what is stated.
    """
    runs, least = RUNS[noisy]
    fill, stated, true = np.array([run(seed, noisy, marked) for seed in range(runs)]).T
    off = np.abs(fill - true)
    assert (off <= stated).sum() >= least
    assert (off <= 2 * stated).all()
    assert np.median(stated / true) < (1 / 12 if noisy else 1e-3)
