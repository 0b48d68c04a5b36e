"""The one callback of long work."""

from __future__ import annotations

import pytest

from core.errors import Cancelled, FillwrightError
from core.progress import report_progress, silent


def test_what_is_told_arrives() -> None:
    heard: list[tuple[float, str]] = []
    report_progress(lambda share, step: heard.append((share, step)), 0.25, "Finding feet")
    assert heard == [(0.25, "Finding feet")]


@pytest.mark.parametrize("answer", [None, True, 0, "", []])
def test_only_false_stops(answer: object) -> None:
    report_progress(lambda share, step: answer, 0.5, "Finding feet")


def test_false_stops_and_names_the_step() -> None:
    with pytest.raises(Cancelled, match="^stopped by the user at: Finding feet$") as caught:
        report_progress(lambda share, step: False, 0.5, "Finding feet")
    assert isinstance(caught.value, FillwrightError)


def test_an_error_of_the_callback_is_its_own() -> None:
    def broken(share: float, step: str) -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        report_progress(broken, 0.5, "Finding feet")


def test_silent_listens_to_nothing() -> None:
    report_progress(silent, 1.0, "Done")
