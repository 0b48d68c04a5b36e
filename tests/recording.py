"""What the whole command line gives, kept in a folder and compared: so that building it anew changes no figure.

``python -m tests.recording make FOLDER [--of CHECKOUT]`` runs every command on both samples and on made scenes;
``python -m tests.recording compare A B`` compares two such folders: numbers to 1e-9 of their size, or of 1. What only
B has is listed and counts for nothing; every other difference is listed, and the exit status is 1.
"""

from __future__ import annotations

import json
import subprocess
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from core.files.mesh_file import read
from core.surface.surface import Surface
from tests.core.command_line import save
from tests.core.place.crowned import odd
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

CLOSE = 1e-9
_PASSING = {"version", "mesh", "sha256"}  # what tells files apart, and not what they hold
X, Y = grid_points(240.0, 160.0, 2.5)
DENTS = cosine_dent(X, Y, (80, 60), (30, 25), 3.0) + cosine_dent(X, Y, (180, 110), (20, 20), 1.2)


def scenes(folder: Path) -> None:
    """The made scenes' meshes, written into ``folder``."""
    def noise(seed: int) -> Any:
        return noise_field(X.shape, 2.5, 6.0, 0.03, np.random.default_rng(seed))

    wide = 2 * X - 240.0
    turn = trimesh.transformations.euler_matrix(0.1, -0.05, 0.08)
    turn[:3, 3] = 30.0, 20.0, -40.0
    panel = sheet(X, Y, odd(X, Y) - DENTS + noise(3))
    made = {
        "panel.ply": panel, "again.ply": sheet(X, Y, odd(X, Y) - DENTS + noise(4)),
        "shape.stl": sheet(X, Y, odd(X, Y)), "old.ply": sheet(X, Y, odd(X, Y) + 0.2),
        "away.ply": Surface(trimesh.transform_points(panel.vertices, turn), panel.triangles),
        "swaged.ply": sheet(X, Y, odd(X, Y) - DENTS + noise(3) + 3 * np.exp(-(((Y - 60) / 8) ** 2))),
        "body.ply": sheet(wide, Y, noise(5) - wide**2 / 900.0 - (Y - 80) ** 2 / 1500.0
                          - cosine_dent(wide, Y, (120, 80), (40, 30), 4.0)),
    }
    for name, surface in made.items():
        save(surface, folder / name)
    marks = np.flatnonzero((np.hypot(X - 80, Y - 60) < 42).ravel())
    (folder / "marks.txt").write_text(" ".join(map(str, marks)))


SAMPLES = "sample_meshes"
BOTH = ["panel.ply", "shape.stl", "--panel-unit", "mm", "--target-unit", "mm"]
RUNS: dict[str, list[str]] = {
    "tailgate/": ["plan", f"{SAMPLES}/tailgate_scan.ply", f"{SAMPLES}/tailgate_shape.stl", "--panel-unit", "mm",
                  "--target-unit", "mm"],
    "bonnet.ply": ["good-side", f"{SAMPLES}/bonnet_scan.glb"],
    "bonnet/": ["plan", f"{SAMPLES}/bonnet_scan.glb", "OUT/bonnet.ply", "--target-unit", "mm"],
    "dents/": ["plan", *BOTH, "--material", "polyester", "--risk", "0.1"],
    "part/": ["plan", *BOTH, "--work-area", "marks.txt", "--surface", "laid"],
    "away/": ["plan", "away.ply", *BOTH[1:], "--line-up", "--aside", "marks.txt"],
    "lined.ply": ["line-up", "away.ply", *BOTH[1:], "--finish-mm", "0.1", "--locate", "edges"],
    "lined/": ["plan", "OUT/lined.ply", *BOTH[1:]],
    "mirrored.ply": ["good-side", "body.ply", "--body-unit", "mm", "--good", "-100", "10", "0"],
    "carried.ply": ["carry-through", "swaged.ply", "--panel-unit", "mm", "--mask", "marks.txt"],
    "carried/": ["plan", "swaged.ply", "OUT/carried.ply", *BOTH[2:]],
    "suggested.ply": ["carry-through", "panel.ply", "--panel-unit", "mm"],
    "was.ply": ["as-was", "old.ply", "panel.ply", "--old-unit", "mm", "--stripped-unit", "mm", "--bad", "marks.txt"],
    "level.ply": ["metal-level", "shape.stl", "--target-unit", "mm", "--filler-mm", "1.5"],
    "over.ply": ["build-over", *BOTH, "--skin-mm", "0.5"],
    "weighed.json": ["weigh-up", "panel.ply", "shape.stl", "old.ply", "--panel-unit", "mm", "--shapes-unit", "mm"],
    "scanner.toml": ["test-scanner", "panel.ply", "again.ply", "--a-unit", "mm", "--b-unit", "mm"],
}


def make(folder: Path, checkout: Path) -> None:
    """Run everything with the core of ``checkout``, into ``folder``."""
    meshes, out = folder / "meshes", folder / "out"
    meshes.mkdir(parents=True)
    out.mkdir()
    scenes(meshes)
    for name, (command, *words) in RUNS.items():
        given = [str(_file(word, checkout, meshes, out)) for word in words]
        sys.stdout.write(f"{name} {command}\n")
        sys.stdout.flush()
        whole = [sys.executable, "-m", "core", command, *given, "--out", str(out / name), "--quiet"]
        done = subprocess.run(whole, cwd=checkout, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit(f"{name}: {done.stderr}")


def _file(word: str, checkout: Path, meshes: Path, out: Path) -> str | Path:
    if word.startswith("OUT/"):
        return out / word.removeprefix("OUT/")
    if word.startswith(SAMPLES):
        return checkout / word
    return meshes / word if (meshes / word).is_file() else word


def compare(before: Path, after: Path) -> list[str]:
    """Every difference of two such folders' results, in words; those that begin with + are new and no fault."""
    files = sorted(path.relative_to(before / "out") for path in (before / "out").rglob("*") if path.is_file())
    found = []
    for file in files:
        one, other = before / "out" / file, after / "out" / file
        found += [f"{file}: {text}" for text in _differences(one, other)] if other.is_file() else [f"{file}: is gone"]
    return found


def _differences(one: Path, other: Path) -> Iterator[str]:
    if one.suffix == ".json":
        yield from _apart(json.loads(one.read_text()), json.loads(other.read_text()), "")
    elif one.suffix in (".ply", ".stl"):
        mesh, twin = read(one, "mm", "mesh"), read(other, "mm", "mesh")
        columns = {"vertices": (mesh.surface.vertices, twin.surface.vertices),
                   "triangles": (mesh.surface.triangles, twin.surface.triangles)}
        columns |= {name: (mesh.properties[name], twin.properties.get(name)) for name in mesh.properties}
        yield from (text for name, (a, b) in columns.items() for text in _arrays_apart(a, b, name))
    elif one.read_bytes() != other.read_bytes():
        yield "its bytes differ"


def _arrays_apart(one: Any, other: Any, name: str) -> Iterator[str]:
    if other is None or one.shape != other.shape:
        yield f"{name}: of another shape"
        return
    one, other = one.astype(np.float64), other.astype(np.float64)
    off = np.abs(one - other) / np.maximum(1.0, np.abs(one))
    wrong = ~((off <= CLOSE) | (np.isnan(one) & np.isnan(other)) | (one == other))
    if wrong.any():
        yield f"{name}: {wrong.sum()} of {wrong.size} differ, by up to {np.nanmax(off):.3g}"


def _apart(one: Any, other: Any, where: str) -> Iterator[str]:
    if isinstance(one, dict) and isinstance(other, dict):
        yield from (f"+ {where}.{name}" for name in other.keys() - one.keys())
        yield from (f"{where}.{name}: is gone" for name in one.keys() - other.keys())
        for name in (one.keys() & other.keys()) - _PASSING:
            yield from _apart(one[name], other[name], f"{where}.{name}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for k, pair in enumerate(zip(one, other, strict=True)):
            yield from _apart(*pair, f"{where}[{k}]")
    elif isinstance(one, float) and isinstance(other, int | float):
        if not abs(one - other) <= CLOSE * max(1.0, abs(one)):
            yield f"{where}: {one!r} was, {other!r} is"
    elif one != other:
        yield f"{where}: {one!r} was, {other!r} is"


def main(words: list[str]) -> int:
    """Make or compare; the exit status."""
    parser = ArgumentParser(prog="python -m tests.recording", description=__doc__)
    parser.add_argument("what", choices=("make", "compare"))
    parser.add_argument("folders", type=Path, nargs="+")
    parser.add_argument("--of", type=Path, default=Path(), help="the checkout whose core is run (this one)")
    asked = parser.parse_args(words)
    if asked.what == "make":
        make(asked.folders[0].absolute(), asked.of.absolute())
        return 0
    found = compare(*asked.folders)
    sys.stdout.write("\n".join([*found, f"{sum(not text.partition(': ')[2].startswith('+') for text in found)} wrong"]))
    return int(any(not text.partition(": ")[2].startswith("+") for text in found))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
