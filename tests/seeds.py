"""Seeds and cases of a test: a few at every run, the rest with the calibration (``make calibration``)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def seeds(count: int, quick: int) -> list[Any]:
    """0 to ``count``, those from ``quick`` on marked for the calibration."""
    return [seed if seed < quick else pytest.param(seed, marks=pytest.mark.calibration) for seed in range(count)]


def cases(every: Iterable[Any], *often: Any) -> list[Any]:
    """``every`` case (a tuple has the values of several names), those not among ``often`` left to the calibration."""
    return [case if case in often else _calibration(case) for case in every]


def _calibration(case: Any) -> Any:
    values = case if isinstance(case, tuple) else (case,)
    return pytest.param(*values, marks=pytest.mark.calibration)
