"""Work that must not take long, in processor seconds: parts of core in this process, and commands in one of their own.

The limits were asked for; each is of this work on a machine of 2025, and printed beside what was measured.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from core.bench.materials import pick
from core.depth.feet import find_feet
from core.place.motion import small
from core.planning.weigh_up import weigh_up
from core.settings import Settings
from core.shape.carry_through import carry_through
from core.shape.suggest import suggested_damage
from core.surface.nearest import Tree
from core.surface.surface import Surface
from tests.core.command_line import save
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet, sphere_patch


@dataclass(frozen=True)
class Limited:
    """A piece of work, what it took and what it may take, processor seconds."""

    name: str
    seconds: float
    most: float


def limited(folder: Path, root: Path) -> Iterator[Limited]:
    """Each piece of work done once; commands are run from ``root`` with meshes in ``folder``."""
    for name, most, make in _PARTS:
        work = make()
        begun = time.process_time()
        work()
        yield Limited(name, time.process_time() - begun, most)
    _scans(folder)
    for name, most, words in _COMMANDS:
        given = [str(folder / word) if word.endswith((".ply", ".toml")) else word for word in words]
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-m", "core", *given, "--quiet"], cwd=root, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        yield Limited(name, after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime, most)


def _scans(folder: Path) -> None:
    """Scans of a million triangles: a panel out of place, the same again, its shape, and a body with a dented side."""
    side = 0.347
    x, y = grid_points(300.0, 200.0, side)
    wide_x, wide_y = grid_points(320.0, 220.0, side)
    turn = small(np.array([0.1, -0.05, 0.08]), np.array([30.0, 20.0, -40.0]))
    dent, middle = cosine_dent(x, y, (90, 70), (40, 30), 3.0), x - 150.0
    first, second, third = (noise_field(x.shape, side, 3.0, 0.03, np.random.default_rng(seed)) for seed in range(3))
    body = -middle**2 / 900.0 - (y - 80) ** 2 / 1500.0 + (y - 80) ** 3 / 4e5
    for name, surface in {
        "panel": turn.surface(sheet(x, y, odd(x, y) - dent + first)), "again": sheet(x, y, odd(x, y) - dent + second),
        "shape": sheet(wide_x - 10, wide_y - 10, odd(wide_x - 10, wide_y - 10)),
        "body": sheet(middle, y, body - cosine_dent(middle, y, (70, 80), (30, 25), 4.0) + third),
    }.items():
        save(surface, folder / f"{name}.ply")


def _rough_weigh_up() -> Callable[[], object]:
    x, y = grid_points(480.0, 480.0, 1.0)
    crown = -((x - 240) ** 2 + (y - 240) ** 2) / 3000
    scan = sheet(x, y, crown - cosine_dent(x, y, (200, 240), (90, 90), 3.0))
    x, y = grid_points(520.0, 520.0, 4.0)
    shape = sheet(x - 20, y - 20, -((x - 260) ** 2 + (y - 260) ** 2) / 3000)
    shapes = {"a": shape, "b": shape}
    return lambda: weigh_up(scan, shapes, Settings(), pick(Settings.material), rough=True)


def _damage() -> Callable[[], object]:
    x, y = (each - 480 for each in grid_points(960.0, 960.0, 2.48))
    noise = noise_field(x.shape, 2.48, 8.0, 0.05, np.random.default_rng(0))
    panel = sphere_patch(x, y, 3000.0, 5 * np.exp(-((np.hypot(x, y) / 40) ** 2) / 2) - noise)
    return lambda: suggested_damage(panel)


def _million() -> Surface:
    x, y = grid_points(1200.0, 900.0, 1.47)
    below = sum(cosine_dent(x, y, *dent) for dent in (
        ((300, 300), (60, 50), 4.0), ((800, 600), (90, 60), 3.0), ((1000, 200), (30, 40), 1.5)))
    noise = noise_field(x.shape, 1.47, 6.0, 0.03, np.random.default_rng(0))
    return sheet(x, y, noise - below - (x - 600) ** 2 / 6000 - (y - 450) ** 2 / 8000)


def _found_and_carried() -> Callable[[], object]:
    panel = _million()
    return lambda: carry_through(panel, suggested_damage(panel))


def _carried() -> Callable[[], object]:
    x, y = (each - 450 for each in grid_points(900.0, 900.0, 1.5))
    radius = 1.5 * np.sqrt(151_000 / np.pi)
    panel = sphere_patch(x, y, 3000.0, 5.0 * (np.hypot(x, y) < radius / 2))
    return lambda: carry_through(panel, (np.hypot(x, y) < radius).ravel())


def _rough_feet() -> Callable[[], object]:
    rng = np.random.default_rng(1)
    x, y = grid_points(70.0, 70.0, 1.0)
    target, panel = (sheet(x, y, rng.normal(0, 1.0, x.shape)) for _ in range(2))
    return lambda: find_feet(panel.vertices - [0, 0, 2.0], panel.vertex_normals, target, Tree(target), 20.0)


_PARTS: tuple[tuple[str, float, Callable[[], Callable[[], object]]], ...] = (
    ("two shapes weighed up roughly, 460 000 triangles", 2.0, _rough_weigh_up),
    ("damage found on 150 000 points", 10.0, _damage),
    ("damage found and carried through, a million triangles", 40.0, _found_and_carried),
    ("150 000 marked points carried through", 15.0, _carried),
    ("feet of a rough scan on as rough a target", 8.0, _rough_feet),
)
_UNITS = ["--panel-unit", "mm", "--target-unit", "mm"]
_COMMANDS: tuple[tuple[str, float, list[str]], ...] = (
    ("line-up, a million triangles", 15.0, ["line-up", "panel.ply", "shape.ply", *_UNITS, "--out", "lined.ply"]),
    ("good-side, a million triangles", 25.0, ["good-side", "body.ply", "--body-unit", "mm", "--out", "good.ply"]),
    ("test-scanner, two of a million triangles", 25.0,
     ["test-scanner", "panel.ply", "again.ply", "--a-unit", "mm", "--b-unit", "mm", "--out", "scanner.toml"]),
)
