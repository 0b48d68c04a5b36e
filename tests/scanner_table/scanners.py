"""The scanners of README's table, each with 20 scans, and where what they gave is kept."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from pathlib import Path

from .outcome import Outcome, outcome
from .panel import Scanner

SEEDS = 20
SCANNERS = (
    Scanner(0.05, 2), Scanner(0.05, 10),
    Scanner(0.15, 2), Scanner(0.15, 5), Scanner(0.15, 10), Scanner(0.15, 20),
    Scanner(0.15, 5, smooth=0.0), Scanner(0.15, 5, length_mm=40, smooth=1.0),
    Scanner(0.5, 5), Scanner(0.5, 10), Scanner(1.5, 5), Scanner(4, 5),
)
RECORDED = Path(__file__).with_name("recorded.json")

Outcomes = dict[Scanner, list[Outcome]]


def scanned() -> Iterator[tuple[Scanner, list[Outcome]]]:
    """Each scanner with its outcomes, seed by seed, in as many processes as there are cores."""
    with ProcessPoolExecutor(os.cpu_count()) as pool:
        for scanner in SCANNERS:
            yield scanner, list(pool.map(outcome, [scanner] * SEEDS, range(SEEDS)))


def record(outcomes: Outcomes) -> None:
    """Keep ``outcomes``, a line for each scan."""
    parts = []
    for scanner, each in outcomes.items():
        scans = ",\n".join("  " + json.dumps(_short(one)) for one in each)
        parts.append(f'{{"scanner": {json.dumps(asdict(scanner))}, "scans": [\n{scans}\n]}}')
    RECORDED.write_text("[" + ",\n".join(parts) + "]\n", encoding="utf-8", newline="\n")


def recorded() -> Outcomes:
    """What is kept."""
    return {
        Scanner(**part["scanner"]): [_outcome(one) for one in part["scans"]]
        for part in json.loads(RECORDED.read_text(encoding="utf-8"))
    }


def _short(one: Outcome) -> list[object]:
    found = "".join("x" if each else "." for each in one.found)
    return [found, *list(asdict(one).values())[1:]]


def _outcome(kept: list[object]) -> Outcome:
    found, *figures, needed = kept
    return Outcome(tuple(each == "x" for each in str(found)), *figures, tuple(needed))  # type: ignore[arg-type, misc]
