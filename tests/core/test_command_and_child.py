"""Every command and the same job through the child's folder give the same figures, shape and map, to the bit of a file.

A mesh goes to both as the command reads it from its file. Names of files and what they hold are the command's alone;
the frame that the child answers in (``matrix``, ``placing``) its own.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh

from core.files.mesh_file import read
from core.surface.surface import Surface
from tests.core.command_line import Ran, run, save
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet
from tests.core.test_exchange import TURN, ask, put

X, Y = grid_points(240.0, 160.0, 2.5)
DENTS = cosine_dent(X, Y, (80, 60), (30, 25), 3.0) + cosine_dent(X, Y, (180, 110), (20, 20), 1.2)
NOISE = noise_field(X.shape, 2.5, 6.0, 0.03, np.random.default_rng(3))


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


def old() -> Surface:
    """The panel as it was, painted and filled."""
    return sheet(X, Y, odd(X, Y) + 0.2)


@dataclass(frozen=True)
class Job:
    """One command, the meshes it takes by role, its options, and the same as the child is asked; marks by role."""

    command: str
    kind: str
    meshes: dict[str, Callable[[], Surface]]
    options: dict[str, Any] = field(default_factory=dict)
    asked: dict[str, Any] = field(default_factory=dict)
    marks: str = ""
    option_of_marks: str = ""
    map_name: str = ""


JOBS = [
    Job("line-up", "line_up", {"panel": lambda: TURN.surface(panel()), "target": shape}, {"finish-mm": 0.1},
        {"finish_mm": 0.1}, map_name="uncertainty_mm"),
    Job("line-up", "line_up", {"panel": lambda: TURN.surface(panel()), "target": shape}, marks="panel",
        option_of_marks="aside", map_name="uncertainty_mm"),
    Job("good-side", "good_side", {"body": body}, map_name="apart_mm"),
    Job("good-side", "good_side", {"body": body}, marks="body", option_of_marks="aside", map_name="apart_mm"),
    Job("carry-through", "carry_through", {"panel": panel}, marks="panel", option_of_marks="mask"),
    Job("carry-through", "carry_through", {"panel": swaged}, marks="panel", option_of_marks="mask"),
    Job("as-was", "as_was", {"old": old, "panel": panel}, {"paint-mm": 0.15}, {"paint_mm": 0.15},
        map_name="old_filler_mm"),
    Job("as-was", "as_was", {"old": old, "panel": panel}, {}, {"paint_mm": 0.2}, "old", "bad",
        "old_filler_mm"),
    Job("metal-level", "metal_level", {"target": shape}, {"filler-mm": 1.5}, {"filler_mm": 1.5}),
    Job("build-over", "build_over", {"panel": panel, "target": shape}, {"skin-mm": 0.5, "material": "polyester"},
        {"skin_mm": 0.5, "material": "polyester"}),
]
NAMES = [f"{job.command}{' ' + job.option_of_marks if job.marks else ''}" for job in JOBS]
ELSEWHERE = {"format", "version", "matrix", "placing", "mm_per_unit", "lines_mm"}


def by_command(job: Job, folder: Path, marks: np.ndarray) -> tuple[dict[str, Any], Path]:
    """What the command says: its figures, and the mesh that it has written."""
    words: list[Any] = [job.command]
    for role, make in job.meshes.items():
        unit = "stripped" if job.kind == "as_was" and role == "panel" else role
        words += [save(make(), folder / f"{role}.ply"), f"--{unit}-unit", "mm"]
    for name, value in job.options.items():
        words += [f"--{name}", value]
    if job.marks:
        (folder / "marks.txt").write_text(" ".join(map(str, np.flatnonzero(marks))))
        words += [f"--{job.option_of_marks}", folder / "marks.txt"]
    assert run(*words, "--out", folder / "made.ply", "--quiet") == Ran(0, "", "")
    return json.loads((folder / "made.json").read_text()), folder / "made.ply"


def by_child(job: Job, folder: Path, marks: np.ndarray) -> tuple[dict[str, Any], dict[str, np.ndarray]]:
    """What the child says to the same meshes, as they were read."""
    for role in job.meshes:
        came = read(folder / f"{role}.ply", "mm", role).surface
        surface = Surface(came.vertices + came.origin, came.triangles)
        put(folder, role, surface, np.eye(4), 1.0, marks if role == job.marks else None)
    figures = ask(folder, kind=job.kind, marked=bool(job.marks), **{role: [role] for role in job.meshes}, **job.asked)
    file = folder / "answer.npz"
    with np.load(file) as arrays:
        return figures, dict(arrays)


def values(file: Path, name: str) -> np.ndarray:
    """A column of a PLY file that the command has written, or of the one beside it."""
    beside = file.with_name("made-old-filler.ply") if name == "old_filler_mm" else file
    mesh = trimesh.load(beside, process=False)
    return np.asarray(mesh.metadata["_ply_raw"]["vertex"]["data"][name], dtype=np.float32).ravel()


@pytest.mark.parametrize("job", JOBS, ids=NAMES)
def test_both_give_the_same(job: Job, tmp_path: Path) -> None:
    marks = (np.hypot(X - 80, Y - 60) < 42).ravel()
    mine, file = by_command(job, tmp_path, marks)
    figures, arrays = by_child(job, tmp_path, marks)
    if "plane" in mine:
        mine |= {"normal": mine["plane"]["normal"], "offset": mine["plane"]["offset_mm"]}
    if "lines_mm" in mine:
        mine["lines"] = mine["lines_mm"]
    both = (set(mine) & set(figures)) - ELSEWHERE
    assert "warnings" in both
    assert not set(figures) - set(mine) - ELSEWHERE  # the child says nothing that the command leaves out
    for name in both:
        assert figures[name] == mine[name], name
    made = read(file, "mm", "made").surface
    if job.map_name:
        written = values(file, job.map_name)
        if len(written) == len(arrays["map_mm"]):
            np.testing.assert_array_equal(arrays["map_mm"], written)
        else:  # of a body the command writes the half that is kept
            assert np.isin(written[np.isfinite(written)], arrays["map_mm"]).all()
    if "vertices" in arrays:
        np.testing.assert_allclose(made.vertices + made.origin, arrays["vertices"], atol=1e-4)
        np.testing.assert_array_equal(made.triangles, arrays["triangles"])
    else:
        turned = arrays and np.array(figures["matrix"])
        came = read(tmp_path / "panel.ply", "mm", "panel").surface
        placed = (came.vertices + came.origin) @ turned[:3, :3].T + turned[:3, 3]
        np.testing.assert_allclose(made.vertices + made.origin, placed, atol=1e-4)
