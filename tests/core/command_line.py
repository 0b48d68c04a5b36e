"""Runs the command line in this process, as a shell would see it."""

from __future__ import annotations

import io
import json
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import trimesh

from core.__main__ import main
from core.surface.surface import Surface
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet


@dataclass(frozen=True)
class Ran:
    """What a command left: its exit status, and all that it printed on each stream."""

    status: int
    out: str
    err: str


def run(*words: object) -> Ran:
    """One command. Only SystemExit, which a wrong argument raises, is taken for an end; all else is a traceback."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main([str(word) for word in words])
        except SystemExit as stop:
            status = stop.code if isinstance(stop.code, int) else 1
    return Ran(status, out.getvalue(), err.getvalue())


def plan(panel: Path, target: Path, folder: Path, *words: object) -> dict[str, Any]:
    """plan.json of a plan that must go well and, being quiet, say nothing."""
    assert run("plan", panel, target, "--out", folder, "--quiet", *words) == Ran(0, "", "")
    record: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return record


def save(surface: Surface, path: Path, scale: float = 1.0) -> Path:
    """The surface as a mesh file in 1/``scale`` mm, of the kind that ``path`` ends in."""
    mesh = trimesh.Trimesh(surface.vertices * scale, surface.triangles, process=False, validate=False)
    mesh.export(path)
    return path


def refused(ran: Ran, status: int, *words: str) -> None:
    """One line on the error stream, in plain words, and nothing else anywhere."""
    assert ran.status == status, ran
    assert ran.out == ""
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1, ran.err
    assert ran.err.startswith("fillwright: ")
    for word in ("Traceback", "Error", "None", "core."):
        assert word not in ran.err
    for word in words:
        assert word in ran.err, ran.err


def tree_of(folder: Path) -> dict[str, bytes]:
    """Every file below ``folder``, and every folder, by name."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b"folder"
        for path in sorted(folder.rglob("*"))
    }


def dented() -> Surface:
    """A flat sheet of 120 by 90 mm with a cosine dent 2 mm deep."""
    x, y = grid_points(120.0, 90.0, 3.0)
    return sheet(x, y, -cosine_dent(x, y, (60, 45), (30, 30), 2.0))


def target() -> Surface:
    """The flat shape over it."""
    return flat_target(120.0, 90.0, 30.0)
