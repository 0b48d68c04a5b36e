"""Everything that can come wrong: one plain sentence on the error stream, its exit status, nothing written.

The list is the issue's. The sentence tests hold what came and what to do; wording may change, so single words are
looked for. Sources: exit statuses as README states them (0 done, 2 wrong use or bad input, 3 no overlap).
"""

from __future__ import annotations

import errno
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from core.command_plan import run as run_plan
from core.errors import Cancelled
from core.surface.surface import Surface
from tests.core.command_line import Ran, plan, run, save
from tests.core.shapes import cosine_dent, flat_target, grid_points, sheet

ROOT = Path(__file__).parents[2]


def dented() -> Surface:
    x, y = grid_points(120.0, 90.0, 3.0)
    return sheet(x, y, -cosine_dent(x, y, (60, 45), (30, 30), 2.0))


def target() -> Surface:
    return flat_target(120.0, 90.0, 30.0)


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    return save(dented(), tmp_path / "panel.ply"), save(target(), tmp_path / "target.stl")


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
    refused(run("plan", *files, "--out", tmp_path / "out", "--quiet"), 2, f"fillwright: {role}: ", *words)
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


@pytest.mark.parametrize("shift", [(0.0, 0.0, 500.0), (5000.0, 0.0, 0.0), (0.0, 0.0, -23.0)])
def test_no_overlap(tmp_path: Path, meshes: tuple[Path, Path], shift: tuple[float, float, float]) -> None:
    far = save(Surface(target().vertices + np.array(shift), target().triangles), tmp_path / "far.stl")
    before = tree_of(tmp_path)
    refused(run("plan", meshes[0], far, "--out", tmp_path / "out", "--quiet"), 3, "do not lie on one another", "line")
    assert tree_of(tmp_path) == before


def test_a_target_inside_out_turns_the_panel_and_says_so(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """The target's side is taken at its word: the same dent seen from behind is as high as it was low."""
    over = target().turned(np.ones(len(target().triangles), dtype=bool))
    right = plan(*meshes, tmp_path / "right")
    found = plan(meshes[0], save(over, tmp_path / "over.stl"), tmp_path / "out")
    assert right["warnings"] == []
    assert any("turned to match" in text for text in found["warnings"])
    assert found["panel"]["condition"]["turned"]
    assert found["cut_volume_mm3"] == pytest.approx(right["fill_volume_mm3"], rel=1e-6)
    assert found["fill_volume_mm3"] == 0


def test_a_panel_inside_out_changes_nothing_but_a_warning(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    over = dented().turned(np.ones(len(dented().triangles), dtype=bool))
    found = plan(save(over, tmp_path / "over.ply"), meshes[1], tmp_path / "out")
    assert found["fill_volume_mm3"] == pytest.approx(plan(*meshes, tmp_path / "right")["fill_volume_mm3"], rel=1e-9)
    assert any("turned to match" in text for text in found["warnings"])


def test_panel_equals_target(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    found = plan(meshes[0], meshes[0], tmp_path / "out")
    assert found["areas"] == []
    assert found["fill_volume_mm3"] == found["cut_volume_mm3"] == found["material"]["packs"] == 0
    assert any("same surface" in text for text in found["warnings"])
    assert (tmp_path / "out" / "fill.stl").stat().st_size == 84  # a binary STL of no triangles


def test_a_target_smaller_than_the_panel_leaves_the_rest_unjudged(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """A shape of 60 x 90 mm over a panel of 120 x 90 mm: half, and what lies over its very edge."""
    x, y = np.meshgrid([30.0, 90.0], [0.0, 90.0], indexing="ij")
    found = plan(meshes[0], save(sheet(x, y, 0 * x), tmp_path / "small.stl"), tmp_path / "out")
    assert found["judged_share"] == pytest.approx(0.5, abs=0.03)
    assert found["area_mm2"]["not_judged"] == pytest.approx(0.5 * 120 * 90, rel=0.06)
    assert found["points"]["not_judged"]["past_edge"] + found["points"]["not_judged"]["too_far"] > 0
    assert any("covers 5" in text and "not judged" in text for text in found["warnings"])


def test_a_hole_in_the_middle_of_the_shape_is_not_filled_over_and_is_said(
    tmp_path: Path, meshes: tuple[Path, Path]
) -> None:
    """The dent's deepest part lies under a hole of the finished shape: nothing is known there, and the plan must not
    give 0.9 mm as the deepest of a dent of 2 mm without a word."""
    x, y = grid_points(180.0, 150.0, 3.0)
    shape = sheet(x - 30, y - 30, 0 * x)
    middle = shape.vertices[shape.triangles].mean(axis=1)
    holed = shape.part(np.hypot(middle[:, 0] - 60, middle[:, 1] - 45) > 15)
    found = plan(meshes[0], save(holed, tmp_path / "holed.ply"), tmp_path / "out")
    hole = 180 * 150 - holed.area
    assert found["area_mm2"]["not_judged"] == pytest.approx(hole, rel=0.2)
    whole = plan(*meshes, tmp_path / "whole")
    # What is left of the cosine dent outside r = 15 of 30: (pi/2) d (0.5 a^2 - 2 integral of r cos) (calculus).
    r = np.linspace(15, 30, 4001)
    ring = np.trapezoid(2 * np.pi * r * (1 + np.cos(np.pi * r / 30)), r) if hasattr(np, "trapezoid") else np.trapz(
        2 * np.pi * r * (1 + np.cos(np.pi * r / 30)), r
    )
    assert found["fill_volume_mm3"] < ring * 1.02 < whole["fill_volume_mm3"]
    assert any("Low 1" in text and "not judged" in text for text in found["warnings"])


def test_a_hole_in_the_middle_of_the_panel_is_left_open(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    panel = dented()
    middle = panel.vertices[panel.triangles].mean(axis=1)
    holed = panel.part(np.hypot(middle[:, 0] - 60, middle[:, 1] - 45) > 12)
    found = plan(save(holed, tmp_path / "holed.ply"), meshes[1], tmp_path / "out")
    assert found["panel"]["area_mm2"] == pytest.approx(holed.area)
    assert found["areas"][0]["reaches_rim"] is True
    # A flat target: the enclosed volume is that of the prisms that are left (exact, to the sheet's own triangles).
    a, b, c = holed.corners
    flat = 0.5 * np.abs(np.cross((b - a)[:, :2], (c - a)[:, :2]))
    prisms = float((flat * -(a + b + c)[:, 2] / 3).sum())
    assert found["enclosed"]["fill_mm3"] == pytest.approx(prisms, rel=1e-5)


def test_the_output_folder_cannot_be_made(
    tmp_path: Path, meshes: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file in the way stops everybody, root as well. No folder at all is no leave to write where one stands."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken").write_bytes(b"mine")
    before = tree_of(tmp_path)
    for folder in (tmp_path / "taken", tmp_path / "taken" / "in", tmp_path / ("long" * 100)):
        refused(run("plan", *meshes, "--out", folder, "--quiet"), 2, "output folder")
        assert tree_of(tmp_path) == before
    refused(run("plan", *meshes, "--out", "", "--quiet"), 2, "--out")
    assert tree_of(tmp_path) == before


def test_the_disk_is_full_half_way(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    """The system itself refuses files above 20 kB (RLIMIT_FSIZE): plan.json fits, the panel map does not."""
    out = tmp_path / "out"
    plan(*meshes, out)
    before = tree_of(tmp_path)
    assert len(before["out/plan.json"]) < 20_000 < len(before["out/panel-map.ply"])
    code = (
        "import resource, signal, sys\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        f"resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, {resource.RLIM_INFINITY}))\n"
        "from core.__main__ import main\nsys.exit(main(sys.argv[1:]))"
    )
    for folder, status in ((out, 2), (tmp_path / "new" / "out", 2)):
        words = [sys.executable, "-c", code, "plan", *meshes, "--out", folder, "--quiet", "--risk", "0.2"]
        done = subprocess.run([str(word) for word in words], cwd=ROOT, capture_output=True, text=True, check=False)
        refused(Ran(done.returncode, done.stdout, done.stderr), status, "output folder", "File too large")
        assert tree_of(tmp_path) == before


def test_the_disk_is_full_at_the_second_file(
    tmp_path: Path, meshes: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    out, calls = tmp_path / "out", []
    plan(*meshes, out)
    before = tree_of(tmp_path)

    def full(file: int) -> None:
        calls.append(file)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    refused(run("plan", *meshes, "--out", out, "--quiet", "--risk", 0.2), 2, "No space left on device", "room")
    assert tree_of(tmp_path) == before


def test_a_user_who_presses_stop(tmp_path: Path, meshes: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C while the depths are found, and while the second file is written."""
    out = tmp_path / "out"
    plan(*meshes, out)
    before = tree_of(tmp_path)

    def stop(*words: object, **more: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr("core.plan.survey", stop)
        refused(run("plan", *meshes, "--out", out, "--quiet", "--risk", 0.2), 130, "stopped", "nothing was written")
    assert tree_of(tmp_path) == before
    calls: list[int] = []

    def second(file: int) -> None:
        calls.append(file)
        if len(calls) == 2:
            raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", second)
    refused(run("plan", *meshes, "--out", out, "--quiet", "--risk", 0.2), 130, "stopped", "nothing was written")
    assert tree_of(tmp_path) == before


def test_a_callback_that_says_no_at_any_step_leaves_nothing(tmp_path: Path, meshes: tuple[Path, Path]) -> None:
    from core.__main__ import _parser

    arguments = _parser().parse_args(["plan", *map(str, meshes), "--out", str(tmp_path / "out"), "--quiet"])
    heard: list[str] = []
    run_plan(arguments, lambda share, step: heard.append(step))
    assert len(heard) > 8
    for path in (tmp_path / "out").iterdir():
        path.unlink()
    (tmp_path / "out").rmdir()
    before = tree_of(tmp_path)
    for place, step in enumerate(heard):
        count: list[str] = []

        def no(share: float, word: str, count: list[str] = count, place: int = place) -> bool:
            count.append(word)
            return len(count) <= place

        if step == heard[-1]:  # all is written by then: it is too late to stop, and not said to be stopped
            run_plan(arguments, no)
            assert (tmp_path / "out" / "plan.json").exists()
            return
        with pytest.raises(Cancelled, match=f"stopped by the user at: {step}"):
            run_plan(arguments, no)
        assert tree_of(tmp_path) == before


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_file_names_that_the_terminal_cannot_write(tmp_path: Path, meshes: tuple[Path, Path], encoding: str) -> None:
    """A name of another alphabet on a terminal of an older code page: the plan is made and told all the same."""
    folder = tmp_path / "Ж Blåskärm"
    words = ("plan", meshes[0].rename(tmp_path / "Blåskärm Ж.ply"), meshes[1], "--out", folder)
    done = subprocess.run(
        [sys.executable, "-m", "core", *map(str, words)], cwd=ROOT, capture_output=True, check=False,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
    )
    assert done.returncode == 0, done.stderr
    assert b"Low 1" in done.stdout
    assert b"Traceback" not in done.stderr
    assert (folder / "plan.json").exists()
