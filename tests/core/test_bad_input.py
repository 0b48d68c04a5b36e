"""Everything that can come wrong: one plain sentence on the error stream, its exit status, nothing written.

The sentence tests hold what came and what to do; wording may change, so single words are
looked for. Sources: exit statuses as README states them (0 done, 2 wrong use or bad input, 3 no overlap).
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from core.surface.surface import Surface
from tests.core.command_line import dented, refused, run, save, target, tree_of


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    return save(dented(), tmp_path / "panel.ply"), save(target(), tmp_path / "target.stl")


def after(file: Path, change: Callable[[bytes], bytes]) -> None:
    file.write_bytes(change(file.read_bytes()))


# What is done to panel.ply or target.stl before the run; then words that the sentence must hold.
def _stl(surface: Surface, path: Path, change: Callable[[bytes], bytes]) -> Path:
    after(save(surface, path), change)
    return path


def _put(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path


def _with_point(value: float) -> Surface:
    made = dented()
    made.vertices[7, 2] = value
    return made


def _obj_out_of_range(folder: Path) -> Path:
    return _put(folder / "bad.obj", b"v 0 0 0\nv 90 0 0\nv 0 90 0\nv 90 90 0\nf 1 2 3\nf 2 4 9\n")


BAD_FILE: dict[str, tuple[Callable[[Path], Path], tuple[str, ...]]] = {
    "empty": (lambda f: _put(f / "bad.stl", b""), ("bad.stl", "empty")),
    "truncated binary STL": (lambda f: _stl(dented(), f / "bad.stl", lambda d: d[:-1000]), ("bad.stl", "cut short")),
    "text renamed .stl": (lambda f: _put(f / "bad.stl", b"dear all,\nthe scan is attached\n"), ("bad.stl", "STL")),
    "STL whose count lies": (
        lambda f: _stl(dented(), f / "bad.stl", lambda d: d[:80] + (7).to_bytes(4, "little") + d[84:]),
        ("bad.stl", "7 triangles"),
    ),
    "points without faces": (lambda f: _put(f / "bad.obj", b"v 0 0 0\nv 90 0 0\nv 0 90 0\n"), ("point cloud",)),
    "NaN": (lambda f: save(_with_point(np.nan), f / "bad.ply"), ("1 of", "not finite", "row 7")),
    "infinite": (lambda f: save(_with_point(np.inf), f / "bad.ply"), ("1 of", "not finite", "row 7")),
    "index out of range": (_obj_out_of_range, ("points that are not there",)),
    "one triangle": (
        lambda f: save(Surface(100 * np.eye(3), np.array([[0, 1, 2]])), f / "bad.ply"), ("single triangle",)
    ),
    "all degenerate": (
        lambda f: save(Surface(dented().vertices * [1, 0, 0], dented().triangles), f / "bad.ply"), ("area",)
    ),
    "unknown format": (lambda f: _put(f / "bad.docx", b"PK"), ("bad.docx", ".stl, .ply, .obj, .glb")),
    "1000 times too small": (
        lambda f: save(dented(), f / "bad.ply", 0.001), ("unit", "0.15 mm", "--panel-unit or --target-unit")
    ),
    "not there": (lambda f: f / "bad.ply", ("there is no file", "bad.ply")),
    "a folder": (lambda f: f, ("is a folder",)),
    "a name too long": (lambda f: f / ("bad" * 100 + ".ply"), ("too long",)),
}


@pytest.mark.parametrize("case", BAD_FILE)
@pytest.mark.parametrize("role", ["panel", "target"])
def test_a_bad_mesh_file(tmp_path: Path, meshes: tuple[Path, Path], case: str, role: str) -> None:
    make, words = BAD_FILE[case]
    bad = make(tmp_path)
    files = (bad, meshes[1]) if role == "panel" else (meshes[0], bad)
    before = tree_of(tmp_path)
    ran = run("plan", *files, "--out", tmp_path / "out", "--quiet")
    refused(ran, 2, *words)
    assert ran.err.startswith((f"fillwright: {role}: ", "fillwright: finished shape: ")[: 2 if role == "target" else 1])
    assert tree_of(tmp_path) == before


def settings_file(text: bytes) -> Callable[[Path], tuple[object, ...]]:
    return lambda folder: ("--settings", _put(folder / "mine.toml", text))


BAD_WORD: dict[str, tuple[Callable[[Path], tuple[object, ...]], tuple[str, ...]]] = {
    "unknown unit": (lambda f: ("--panel-unit", "ell"), ("panel", "'ell'", "mm, cm, m or in")),
    "unknown unit of the target": (lambda f: ("--target-unit", "yd"), ("target", "'yd'", "mm, cm, m or in")),
    "1000 times too small, though stated": (lambda f: ("--target-unit", "m"), ("unit",)),
    "unknown material": (lambda f: ("--material", "butter"), ("'butter'", "tin-lead-30-70", "polyester")),
    "no materials file": (lambda f: ("--materials", f / "none.toml"), ("none.toml", "can't be read")),
    "broken materials file": (lambda f: ("--materials", _put(f / "m.toml", b"[a\n")), ("m.toml", "TOML")),
    "material half given": (
        lambda f: ("--materials", _put(f / "m.toml", b"[mine]\ndensity_g_cm3 = 9.0\n")), ("m.toml", "mine", "missing")
    ),
    "no settings file": (lambda f: ("--settings", f / "none.toml"), ("none.toml", "can't be read")),
    "broken settings file": (settings_file(b"risk 0.05"), ("mine.toml", "TOML", "risk = 0.05")),
    "settings file in no text": (settings_file(b"\xff\xfe\x00r"), ("mine.toml", "TOML")),
    "unknown setting": (settings_file(b"rsik = 0.05"), ("mine.toml", "'rsik'", "risk")),
    "setting of words": (settings_file(b'true_mm = "small"'), ("true_mm", "'small'", "number")),
    "material of a number": (settings_file(b"material = 3"), ("mine.toml", "material")),
    "setting beyond numbers": (settings_file(b"reach_mm = 1" + b"0" * 400), ("reach_mm", "500")),
    "setting beyond reading": (settings_file(b"reach_mm = 1" + b"0" * 5000), ("mine.toml",)),
    "risk in percent": (lambda f: ("--risk", 5), ("risk", "5 came", "0.5")),
    "risk not a number": (lambda f: ("--risk", "nan"), ("risk", "number")),
    "negative tolerance": (lambda f: ("--true-mm", -1), ("true_mm", "-1 came")),
    "reach too far": (lambda f: ("--reach-mm", 1e6), ("reach_mm", "500")),
    "tolerance beyond the material": (lambda f: ("--true-mm", 5), ("3.2 mm", "5 mm")),
    "no work area": (lambda f: ("--work-area", f / "none.txt"), ("work area", "there is no file")),
    "work area of words": (lambda f: ("--work-area", _put(f / "w.txt", b"left half")), ("w.txt", "'left'")),
    "work area elsewhere": (lambda f: ("--work-area", _put(f / "w.txt", b"5 99999")), ("99999",)),
    "work area of nothing": (lambda f: ("--work-area", _put(f / "w.txt", b"# none\n")), ("w.txt", "no point")),
}


@pytest.mark.parametrize("case", BAD_WORD)
def test_a_bad_word_or_side_file(tmp_path: Path, meshes: tuple[Path, Path], case: str) -> None:
    make, words = BAD_WORD[case]
    more = make(tmp_path)
    before = tree_of(tmp_path)
    refused(run("plan", *meshes, "--out", tmp_path / "out", "--quiet", *more), 2, *words)
    assert tree_of(tmp_path) == before


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ((), "COMMAND"), (("plna",), "plna"), (("plan",), "PANEL"), (("plan", "a.ply", "b.stl"), "--out"),
        (("plan", "a.ply", "b.stl", "--out", "o", "--risk", "low"), "low"),
        (("plan", "a.ply", "b.stl", "--out", "o", "--glue"), "--glue"),
        (("plan", "a.ply", "b.stl", "c.stl", "--out", "o"), "c.stl"),
    ],
)
def test_wrong_use_is_one_sentence_too(words: tuple[str, ...], told: str) -> None:
    refused(run(*words), 2, told, "--help")


def test_an_option_is_not_guessed_from_its_beginning(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """--material and --materials differ by a letter: what is cut short is refused, not taken for another."""
    refused(run("plan", *meshes, "--out", tmp_path / "out", "--quiet", "--ris", "0.1"), 2, "--ris")


def test_the_sentence_stands_alone_below_the_progress_bar(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    far = save(Surface(target().vertices + [0, 0, 500.0], target().triangles), tmp_path / "far.stl")
    ran = run("plan", meshes[0], far, "--out", tmp_path / "out")
    assert ran.out == ""
    assert ran.err.splitlines()[-1].startswith("fillwright: ")
