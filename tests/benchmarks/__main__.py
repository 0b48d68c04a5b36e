"""Time the whole plan beside libigl's signed_distance: ``python -m tests.benchmarks [--sizes 0.1 1 4] [--runs 3]``.

Each plan is a fresh process, files in and files out. Plan and libigl take turns, and the best of the runs counts
for both, so that a machine that does something else beside does not favour either. The meshes are made in a temporary
folder. Needs a system with os.wait4 (not Windows).
"""

from __future__ import annotations

import os
import platform
import subprocess
import sys
import tempfile
import time
from argparse import ArgumentParser
from dataclasses import dataclass
from pathlib import Path

from core.commands import plan as command_plan

from .limits import limited
from .peers import libigl_seconds, slow_peers
from .scenes import Scene, scene, shuffled, write

ROOT = Path(__file__).resolve().parents[2]
# Wanted at a million triangles: times libigl's signed_distance alone, and MB; growth from one to four million.
MOST_RATIO = {"ply": 2.0, "stl": 2.7}
MOST_MB, MOST_GROWTH = 1500.0, 5.2


@dataclass(frozen=True)
class Row:
    """One line of the table: sizes in millions of triangles, seconds, peak memory in MB."""

    size: float
    order: str
    kind: str
    seconds: float
    libigl_seconds: float
    peak_mb: float

    @property
    def ratio(self) -> float:
        """The plan's time over libigl's on the same arrays."""
        return self.seconds / self.libigl_seconds


def main() -> None:
    parser = ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--sizes", type=float, nargs="+", default=[0.1, 1.0, 4.0], help="millions of triangles")
    parser.add_argument("--runs", type=int, default=3, help="how often each is timed; the best counts")
    asked = parser.parse_args()
    _say(f"{os.cpu_count()} cores, {_memory_gb():.0f} GB, Python {platform.python_version()}; best of {asked.runs}\n")
    _say("| million triangles | order | format | plan s | libigl signed_distance s | ratio | peak MB |")
    _say("|--:|---|---|--:|--:|--:|--:|")
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for size in asked.sizes:
            made = scene(round(1e6 * size))
            for order, this in (("rows", made), ("shuffled", shuffled(made))):
                rows += _timed(size, order, this, Path(folder), asked.runs)
        _growth(rows)
        _limits(Path(folder))
        _stages(Path(folder), 1.0 if 1.0 in asked.sizes else asked.sizes[0])
    _others(scene(1_000_000 if 1.0 in asked.sizes else round(1e6 * asked.sizes[0])))
    _judged(rows)


def _timed(size: float, order: str, this: Scene, folder: Path, runs: int) -> list[Row]:
    rows = []
    for kind in ("ply", "stl") if size == 1.0 else ("ply",):
        files = [write(mesh, folder / f"{size:g}-{order}-{name}.{kind}")
                 for name, mesh in (("panel", this.panel), ("target", this.target))]
        plans, peers = [], []
        for _ in range(runs):
            plans.append(_plan(files, folder / "out"))
            peers.append(libigl_seconds(this))
        best, peak = min(p[0] for p in plans), max(p[1] for p in plans)
        rows.append(Row(size, order, kind, best, min(peers), peak))
        r = rows[-1]
        _say(f"| {size:g} | {order} | {kind} | {r.seconds:.2f} | {r.libigl_seconds:.2f} | {r.ratio:.2f} | {peak:.0f} |")
    return rows


def _plan(files: list[Path], out: Path) -> tuple[float, float]:
    """Wall seconds and peak memory in MB of one plan in a process of its own."""
    command = [sys.executable, "-m", "core", *_words(files, out), "--quiet"]
    timed = [sys.executable, str(Path(__file__).with_name("timed.py")), *command]
    done = subprocess.run(timed, cwd=ROOT, stdout=subprocess.PIPE, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"the plan of {files[0].name} ended with status {done.returncode}")
    seconds, peak = map(float, done.stdout.split())
    return seconds, peak


def _words(files: list[Path], out: Path) -> list[str]:
    return ["plan", *map(str, files), "--panel-unit", "mm", "--target-unit", "mm", "--out", str(out)]


def _stages(folder: Path, size: float) -> None:
    """Where the time goes, by the progress callback, in this process."""
    for order in ("rows", "shuffled"):
        files = [folder / f"{size:g}-{order}-{name}.ply" for name in ("panel", "target")]
        parser = ArgumentParser()
        command_plan.add_arguments(parser)
        marks: list[tuple[float, str]] = []
        command_plan.run(
            parser.parse_args(_words(files, folder / "out")[1:]),
            lambda share, step, marks=marks: marks.append((time.perf_counter(), step)),  # type: ignore[misc]
        )
        _say(f"\n| stage at {size:g} million, {order} | s |\n|---|--:|")
        for (start, step), (end, _) in zip(marks, marks[1:], strict=False):
            _say(f"| {step} | {end - start:.2f} |")


def _others(this: Scene) -> None:
    _say("\n| other libraries, distance alone, in rows | s |\n|---|--:|")
    for peer in slow_peers(this):
        said = "not installed" if peer.seconds is None else f"{peer.seconds:.1f}"
        _say(f"| {peer.name}{f', from {peer.sampled} points by proportion' if peer.sampled else ''} | {said} |")


def _limits(folder: Path) -> None:
    _say("\n| work | processor s | wanted at most | |\n|---|--:|--:|---|")
    for one in limited(folder, ROOT):
        _say(f"| {one.name} | {one.seconds:.1f} | {one.most:g} | {_verdict(one.seconds <= one.most)} |")


def _growth(rows: list[Row]) -> None:
    for order in ("rows", "shuffled"):
        at = {row.size: row for row in rows if row.order == order and row.kind == "ply"}
        if {1.0, 4.0} <= at.keys():
            ours, theirs = (at[4.0].seconds / at[1.0].seconds, at[4.0].libigl_seconds / at[1.0].libigl_seconds)
            _say(f"\nGrowth from 1 to 4 million, {order}: plan {ours:.2f} times, libigl {theirs:.2f} times; "
                 f"wanted at most both {theirs:.2f} and {MOST_GROWTH:g}: {_verdict(ours <= min(theirs, MOST_GROWTH))}")


def _judged(rows: list[Row]) -> None:
    _say("")
    for row in (row for row in rows if row.size == 1.0):
        most = MOST_RATIO[row.kind]
        _say(f"{row.kind}, {row.order}: {row.ratio:.2f} times libigl, wanted at most {most:g}: "
             f"{_verdict(row.ratio <= most)}; {row.peak_mb:.0f} MB, wanted under {MOST_MB:.0f}: "
             f"{_verdict(row.peak_mb < MOST_MB)}")


def _verdict(good: bool) -> str:
    return "reached" if good else "not reached"


def _memory_gb() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1024**3


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()
