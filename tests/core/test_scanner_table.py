"""README's table of scanners is what the simulation gives.

Truths: the lows' closed volumes (calculus); without a wrong map, the overbuild that a laying needs is the planned one.
"""

from __future__ import annotations

from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest

from core.place.fit import InitialPose, Target
from core.place.motion import from_pairs
from core.place.scanner_error import scanner_error
from core.settings import Settings
from core.surface.nearest import Tree
from tests.scanner_table.outcome import outcome
from tests.scanner_table.panel import TYPICAL, Scanner, scan
from tests.scanner_table.scanners import SCANNERS, SEEDS, recorded
from tests.scanner_table.table import table
from tests.seeds import cases

README = Path(__file__).resolve().parents[2] / "README.md"
QUICK = [(Scanner(0.15, 20), 0), (Scanner(0.15, 20), 7), (Scanner(0.5, 10), 1)]
SOME = [*QUICK, *((scanner, 3) for scanner in SCANNERS[1::4])]  # enough to tell a change of the plan


def test_readme_has_the_recorded_table() -> None:
    assert f"\n{table(recorded())}\n" in README.read_text(encoding="utf-8")


def test_every_scan_is_recorded() -> None:
    kept = recorded()
    assert tuple(kept) == SCANNERS
    assert {len(each) for each in kept.values()} == {SEEDS}


@pytest.mark.parametrize(("scanner", "seed"), cases(SOME, *QUICK))
def test_a_scan_planned_anew_gives_what_is_recorded(scanner: Scanner, seed: int) -> None:
    found, invented, *figures, needed = astuple(outcome(scanner, seed))
    kept = recorded()[scanner][seed]
    assert (found, invented) == (kept.found, kept.invented)
    assert figures == pytest.approx([kept.map_mm, kept.volume_mm3, kept.give_or_take_mm3, kept.overbuild_mm], rel=1e-3)
    assert needed == pytest.approx(kept.needed_mm, abs=0.011)


def test_without_noise_every_low_is_told() -> None:
    told = outcome(Scanner(0.001, 5), 0)
    assert (all(told.found), told.invented) == (True, 0)
    assert told.map_mm < 0.02
    assert told.volume_mm3 == pytest.approx(TYPICAL.volume_mm3, rel=0.01)


@pytest.mark.parametrize("noise_mm", [0.05, 0.5])
def test_test_the_scanner_says_which_row_is_ones_own(noise_mm: float) -> None:
    # Half white, half over 15 mm: 10 mm, which leaves a large mean as uncertain (JCGM 100: variances add up).
    a, b = (scan(Scanner(noise_mm, 5), seed) for seed in (0, 1))
    start = InitialPose(from_pairs(a.clicks.panel, b.clicks.panel))
    told = scanner_error(a.panel, Target(b.panel, Tree(b.panel), 40.0), start)
    assert told.error_mm == pytest.approx(noise_mm, rel=0.1)
    assert told.length_mm == pytest.approx(10.0, abs=1.0)


def test_a_good_map_needs_the_planned_overbuild() -> None:
    each = recorded()[Scanner(0.05, 2)]
    needed = np.quantile([laid for one in each for laid in one.needed_mm], 1 - Settings.risk)
    assert needed == pytest.approx(np.mean([one.overbuild_mm for one in each]), abs=0.05)
