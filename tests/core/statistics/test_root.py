"""Witness: scipy.optimize.brentq, on falling functions of random steepness and place."""

from __future__ import annotations

import math
import subprocess
import sys

import numpy as np
import pytest
from scipy.optimize import brentq

from core.statistics.root import falling_root


@pytest.mark.parametrize("seed", range(20))
def test_as_brentq_finds_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    place, steep = rng.uniform(1e-3, 5.0), 10 ** rng.uniform(-2, 2)

    def of(x: float) -> float:
        return math.erfc(steep * (x - place)) - 1.0

    found = falling_root(of, 0.0, 40.0)
    assert found == pytest.approx(brentq(of, 0.0, 40.0, xtol=1e-14), rel=1e-12)
    assert of(found) <= 0 < of(math.nextafter(found, -math.inf))


def test_a_jump_gives_its_far_side() -> None:
    assert falling_root(lambda x: 1.0 if x < 0.3 else -1.0, 0.0, 1.0) == 0.3


def test_a_plan_does_not_load_optimisation() -> None:
    """It takes an eighth of a second, which every plan and every child would wait for."""
    loaded = "import sys, core.jobs.plan_result; print('scipy.optimize' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", loaded], capture_output=True, text=True).stdout == "False\n"
