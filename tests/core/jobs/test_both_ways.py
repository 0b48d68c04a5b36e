"""Every job gives the same through its command and through a child, to the bit; and the command's files hold it.

By itself for each job of the registry: what the command asks for is caught and given to a process of its own.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from core.files.mesh_file import read
from core.jobs.part import Answer
from core.jobs.registry import JOBS, answered, ask
from core.jobs.result import Result
from core.progress import Progress
from core.surface.surface import Surface
from tests.core.command_line import Ran, run, save
from tests.core.jobs.test_jobs import TURN
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet
from tests.seeds import cases

ROOT = Path(__file__).parents[3]
STEP = 3.2
X, Y = grid_points(240.0, 160.0, STEP)
DENTS = cosine_dent(X, Y, (80, 60), (30, 25), 3.0) + cosine_dent(X, Y, (180, 110), (20, 20), 1.2)
NOISE = noise_field(X.shape, STEP, 6.0, 0.03, np.random.default_rng(3))


def panel() -> Surface:
    return sheet(X, Y, odd(X, Y) - DENTS + NOISE)


def shape() -> Surface:
    return sheet(X, Y, odd(X, Y))


def swaged() -> Surface:
    """The panel with a swage through its dent."""
    return sheet(X, Y, odd(X, Y) - DENTS + NOISE + 3 * np.exp(-(((Y - 60) / 8) ** 2)))


def body() -> Surface:
    """Its own mirror image about x = 0 but for a dent on one side."""
    x = X * 2 - 240.0
    return sheet(x, Y, NOISE - x**2 / 900.0 - (Y - 80) ** 2 / 1500.0 - cosine_dent(x, Y, (120, 80), (40, 30), 4.0))


def again() -> Surface:
    """The panel scanned a second time."""
    return sheet(X, Y, odd(X, Y) - DENTS + noise_field(X.shape, STEP, 6.0, 0.03, np.random.default_rng(4)))


def old() -> Surface:
    """The panel as it was, painted and filled."""
    return sheet(X, Y, odd(X, Y) + 0.2)


SHAPED = {"panel": panel, "target": shape}
# For each job, its plainest case first: command, meshes by argument, and options; MARKS stands for a file of marks.
MARKS = "MARKS"
CASES: dict[str, list[tuple[str, dict[str, Callable[[], Surface]], list[str]]]] = {
    "plan": [
        ("plan", SHAPED, ["--material", "polyester", "--risk", "0.1", "--work-area", MARKS]),
        ("plan", {"panel": lambda: TURN.surface(panel()), "target": shape}, ["--aside", MARKS]),
    ],
    "line_up": [
        ("line-up", {"panel": lambda: TURN.surface(panel()), "target": shape}, ["--finish-mm", "0.1"]),
        ("line-up", {"panel": lambda: TURN.surface(panel()), "target": shape}, ["--aside", MARKS, "--locate", "rims"]),
    ],
    "good_side": [
        ("good-side", {"body": body}, ["--aside", MARKS]),
        ("good-side", {"body": body}, ["--good", "-100", "10", "0"]),
    ],
    "find_damage": [("find-damage", {"panel": panel}, [])],
    "carry_through": [
        ("carry-through", {"panel": panel}, ["--mask", MARKS]),
        ("carry-through", {"panel": swaged}, ["--mask", MARKS]),
        ("carry-through", {"panel": swaged}, ["--mask", MARKS, "--no-lines"]),
        ("carry-through", {"panel": panel}, []),
    ],
    "as_was": [
        ("as-was", {"old": old, "stripped": panel}, ["--paint-mm", "0.15"]),
        ("as-was", {"old": old, "stripped": panel}, ["--bad", MARKS]),
    ],
    "metal_level": [("metal-level", {"target": shape}, ["--filler-mm", "1.5"])],
    "build_over": [("build-over", SHAPED, ["--skin-mm", "0.5", "--material", "polyester"])],
    "weigh_up": [("weigh-up", {"panel": panel, "shapes": shape}, ["--rough"])],
    "scanner_error": [("test-scanner", {"a": panel, "b": again}, [])],
}
ENDINGS = {"plan": "", "weigh_up": ".json", "scanner_error": ".toml", "find_damage": ".txt"}


def test_every_job_has_its_case() -> None:
    assert set(CASES) == set(JOBS), "say in CASES with which words the command line asks for it"


@pytest.mark.parametrize(("name", "case"), cases(
    [(name, case) for name, all_of_it in CASES.items() for case in all_of_it],
    *((name, all_of_it[0]) for name, all_of_it in CASES.items()),
))
def test_both_give_the_same(
    name: str, case: tuple[str, dict[str, Callable[[], Surface]], list[str]], tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What the command asks for is given to a child, which says the same; and the command's files hold it."""
    asked: list[tuple[object, Result]] = []
    plain = JOBS[name].run

    def heard(request: object, progress: Progress) -> Result:
        asked.append((request, plain(request, progress)))
        return asked[-1][1]

    monkeypatch.setattr(JOBS[name], "run", heard)
    out = tmp_path / f"made{ENDINGS.get(name, '.ply')}"
    assert run(*_words(case, tmp_path), "--out", out, "--quiet") == Ran(0, "", "")
    ((request, result),) = asked
    ask(tmp_path, request)
    words = [sys.executable, ROOT / "core" / "child" / "answer.py", tmp_path, name, ROOT]
    subprocess.run([str(word) for word in words], check=True, capture_output=True)
    mine, child = result.answer(), answered(tmp_path)
    assert child.record == json.loads(json.dumps(mine.record))
    assert set(child.arrays) == set(mine.arrays)
    for key, array in mine.arrays.items():
        np.testing.assert_array_equal(child.arrays[key], array, key)
    _check_files(name, out, child)


def _words(case: tuple[str, dict[str, Callable[[], Surface]], list[str]], folder: Path) -> list[Any]:
    command, meshes, options = case
    marks = (np.hypot(X - 80, Y - 60) < 42).ravel()
    (folder / "marks.txt").write_text(" ".join(map(str, np.flatnonzero(marks))))
    words: list[Any] = [command]
    for role, make in meshes.items():
        words += [save(make(), folder / f"{role}.ply"), f"--{role}-unit", "mm"]
    return [*words, *(folder / "marks.txt" if word == MARKS else word for word in options)]


def _check_files(name: str, out: Path, child: Answer) -> None:
    """The command's own files hold the record, the shape, and the map's values."""
    if name == "find_damage":
        rows = np.loadtxt(out, dtype=np.int64)
        np.testing.assert_array_equal(rows, np.flatnonzero(child.arrays["map_mm"] > 0))
        return
    if name == "scanner_error":
        assert child.record["settings"] in out.read_text()
        return
    written = json.loads((out / "plan.json" if name == "plan" else out.with_suffix(".json")).read_text())
    for key, value in child.record.items():
        if key == "warnings" and "suggested" in written:
            value = [*value, written[key][-1]]
        assert written[key] == value, key
    if "vertices" in child.arrays:
        made = read(out, "mm", "made").surface
        np.testing.assert_allclose(made.vertices + made.origin, child.arrays["vertices"], atol=1e-4)
        np.testing.assert_array_equal(made.triangles, child.arrays["triangles"])
    column = {"line_up": "uncertainty_mm", "good_side": "apart_mm", "as_was": "old_filler_mm"}.get(name)
    if column:
        values = _values(out, column)
        assert np.isin(values[np.isfinite(values)], child.arrays["map_mm"]).all()


def _values(file: Path, name: str) -> np.ndarray:
    """A column of a PLY file that the command has written, or of the one beside it."""
    beside = file.with_name("made-old-filler.ply") if name == "old_filler_mm" else file
    mesh = trimesh.load(beside, process=False)
    return np.asarray(mesh.metadata["_ply_raw"]["vertex"]["data"][name], dtype=np.float32).ravel()
