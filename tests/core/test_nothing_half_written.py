"""Nothing half-written, whatever ends the work: no room, no leave, the user's stop. Old results stay as they were.

Sources: POSIX errno values and RLIMIT_FSIZE; DESIGN, "files are written whole or not at all".
"""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from core.commands.plan import run as run_plan
from core.errors import Cancelled
from tests.core.command_line import Ran, dented, plan, refused, run, save, target, tree_of

ROOT = Path(__file__).parents[2]


@pytest.fixture
def meshes(tmp_path: Path) -> tuple[Path, Path]:
    return save(dented(), tmp_path / "panel.ply"), save(target(), tmp_path / "target.stl")


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
    resource = pytest.importorskip("resource")
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
        patch.setattr("core.planning.plan.lie_of", stop)
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
    from core.__main__ import COMMANDS, PROGRAM, _parser

    words = ["plan", *map(str, meshes), "--out", str(tmp_path / "out"), "--quiet"]
    arguments = _parser(COMMANDS, PROGRAM, words[:1]).parse_args(words)
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
