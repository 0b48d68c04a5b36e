"""Seeds for a test: the first few at every run, all of them with the calibration (``make calibration``)."""

from __future__ import annotations

from typing import Any

import pytest


def seeds(count: int, quick: int) -> list[Any]:
    """0 to ``count``, those from ``quick`` on marked for the calibration."""
    return [seed if seed < quick else pytest.param(seed, marks=pytest.mark.calibration) for seed in range(count)]
