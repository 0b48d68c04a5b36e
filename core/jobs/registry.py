"""Every job by its name. numpy only: what a job works with is loaded where it runs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from ..progress import Progress
from . import (
    as_was,
    build_over,
    carry_through,
    find_damage,
    good_side,
    line_up,
    metal_level,
    plan,
    scanner_error,
    weigh_up,
)
from .folder import leave, take
from .part import Answer

if TYPE_CHECKING:
    from .result import Result

_REQUEST, _ANSWER = "request", "answer"


class Job(Protocol):
    """What a job is made of; a module with these names is one."""

    @property
    def Request(self) -> type: ...  # noqa: N802

    @property
    def run(self) -> Any: ...


JOBS: Mapping[str, Job] = {
    "plan": plan,
    "line_up": line_up,
    "good_side": good_side,
    "find_damage": find_damage,
    "carry_through": carry_through,
    "as_was": as_was,
    "metal_level": metal_level,
    "build_over": build_over,
    "weigh_up": weigh_up,
    "scanner_error": scanner_error,
}


def name_of(request: object) -> str:
    """The name of the job that ``request`` is for."""
    return next(name for name, job in JOBS.items() if type(request) is job.Request)


def run(request: object, progress: Progress) -> Result:
    """What the job gives that ``request`` is for."""
    result: Result = JOBS[name_of(request)].run(request, progress)
    return result


def ask(folder: Path, request: object) -> None:
    """Leave ``request`` in ``folder`` for another process."""
    leave(folder, _REQUEST, request)


def answer(folder: Path, name: str, progress: Progress) -> None:
    """Do the job ``name`` as it was asked for in ``folder``, and leave the answer there."""
    leave(folder, _ANSWER, run(take(folder, _REQUEST, JOBS[name].Request), progress).answer())


def answered(folder: Path) -> Answer:
    """What the other process has found."""
    return take(folder, _ANSWER, Answer)
