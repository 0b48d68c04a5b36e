"""Two scans of one panel: how large the scanner's error is, and how far it agrees with itself."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from core.place.fit import InitialPose
from core.place.motion import STILL
from core.place.scanner_error import ScannerError, scanner_error
from core.settings import Settings, read_settings
from core.statistics.noise import stated
from core.surface.surface import Surface
from tests.core.place.crowned import Scan, facets, scan, target_of
from tests.seeds import cases

SEEDS = range(4)


def pair(seed: int, length_mm: float, sigma_mm: float = 0.05) -> ScannerError:
    """Two scans of the same dented panel, with different noise, lined up already but for half a millimetre."""
    one = scan(100 + seed, length_mm, sigma_mm, away=STILL)
    other = scan(200 + seed, length_mm, sigma_mm, away=STILL)
    return scanner_error(one.panel, target_of(other.panel, 20.0), InitialPose(STILL))


def pieces(made: Scan, length_mm: float) -> float:
    """How many independent pieces of noise a panel of 500 x 400 mm holds."""
    return len(made.sound) if length_mm == 0 else 500 * 400 / (4 * np.pi * length_mm**2)


@pytest.mark.parametrize("length", cases([0.0, 6.0, 12.0], 6.0))
def test_size_and_length_are_found(length: float) -> None:
    """A standard deviation from n independent pieces scatters by 1 / sqrt(2n) of itself (textbook); three times that.

    For smooth noise, squares agree over half the area that values do: 4 pi l^2 / 4 a piece; the dents' rims and
    what is set aside with them cost a little, and the mean of four runs halves it again, which is not counted on.
    """
    found = [pair(seed, length) for seed in SEEDS]
    scatter = 1 / np.sqrt(2 * pieces(scan(0, 0.0), length))
    errors = np.array([one.error_mm for one in found])
    assert errors == pytest.approx(np.full(len(errors), 0.05), rel=max(0.03, 3 * scatter))
    lengths = np.array([one.length_mm for one in found])
    if length == 0:
        assert lengths.max() == 0
    else:
        assert lengths == pytest.approx(np.full(len(lengths), length), rel=0.2)
        assert lengths.mean() == pytest.approx(length, rel=0.1)


@pytest.mark.parametrize("aside_mm", [1.0, 2.0])
def test_white_noise_is_not_lost_between_the_other_scan_s_points(aside_mm: float) -> None:
    """Feet between points see the mean of three, so less noise; the error is 0.05 mm all the same."""
    one, other = (scan(seed, 0.0, dents=(), away=STILL).panel for seed in (1, 2))
    x, y = one.vertices[:, 0] + aside_mm, one.vertices[:, 1] + 0.7 * aside_mm
    z = one.vertices[:, 2] - facets(*one.vertices.T[:2]) + facets(x, y)
    moved = Surface(np.stack([x, y, z], axis=1), one.triangles)
    found = scanner_error(moved, target_of(other, 20.0), InitialPose(STILL, 0.01))
    assert found.error_mm == pytest.approx(0.05, rel=0.03)
    assert found.length_mm == 0


def test_dents_cost_no_sound_metal() -> None:
    """Both scans show the same dents, so nothing of them is between the two."""
    assert pair(0, 0.0).fit.share > 0.85


def test_what_a_plan_makes_of_it_is_as_uncertain_as_the_noise_was() -> None:
    """A plan knows size and one length: a large area's volume must come out as uncertain as by the noise measured."""
    for length in (0.0, 6.0):
        found = pair(1, length)
        plan = stated(found.error_mm, found.length_mm, found.fit.noise.cell_mm2)
        assert plan.of_volume(2e4) * np.sqrt(2) == pytest.approx(found.fit.noise.of_volume(2e4), rel=0.1)


def test_the_settings_can_be_read_again(tmp_path: Path) -> None:
    found = pair(2, 6.0)
    path = tmp_path / "scanner.toml"
    path.write_text(found.settings())
    settings = Settings().changed(read_settings(path))
    assert settings.scan_error_mm == pytest.approx(found.error_mm, abs=5e-5)
    assert settings.scan_error_length_mm == pytest.approx(found.length_mm, abs=5e-3)


def test_two_copies_of_one_file_have_no_error() -> None:
    made = scan(0, 0.0, away=STILL)
    found = scanner_error(made.panel, target_of(made.panel, 20.0), InitialPose(STILL))
    assert found.error_mm < 1e-4
    assert found.fit.share == pytest.approx(1.0, abs=0.01)
