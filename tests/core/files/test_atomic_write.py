"""Files written whole or not at all, with the failures made by hand where a machine seldom has them.

Source: DESIGN, "files are written whole or not at all"; POSIX errno values.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from core.errors import OutputError
from core.files.atomic_write import atomic_write

NEW: dict[str, bytes | str] = {"a.json": "new é\n", "b.ply": b"\x00\xff", "c.csv": ""}


def held(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def old_results(folder: Path) -> dict[str, bytes]:
    folder.mkdir(parents=True)
    for name in NEW:
        (folder / name).write_bytes(b"old " + name.encode())
    (folder / "notes.txt").write_bytes(b"somebody's own")
    return held(folder)


def failing(monkeypatch: pytest.MonkeyPatch, name: str, turn: int, error: BaseException) -> None:
    """The ``turn``-th call of os.``name`` raises ``error``; the others work."""
    real, calls = getattr(os, name), []

    def call(*words: object) -> object:
        calls.append(words)
        if len(calls) == turn:
            raise error
        return real(*words)

    monkeypatch.setattr(os, name, call)


def test_the_files_hold_what_was_given(tmp_path: Path) -> None:
    folder = tmp_path / "deep" / "down"
    assert atomic_write(folder, NEW) == [folder / name for name in NEW]
    assert held(folder) == {"a.json": "new é\n".encode(), "b.ply": b"\x00\xff", "c.csv": b""}
    atomic_write(folder, {"a.json": "newer\n"})  # the line's end is not changed by the platform
    assert held(folder)["a.json"] == b"newer\n"
    assert len(list(folder.iterdir())) == 3


@pytest.mark.parametrize("turn", [1, 2, 3])
def test_a_disk_full_at_any_file_leaves_old_results_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, turn: int
) -> None:
    old = old_results(tmp_path / "out")
    failing(monkeypatch, "fsync", turn, OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))
    with pytest.raises(OutputError, match=r"the results can't be written there \(No space left on device\)"):
        atomic_write(tmp_path / "out", NEW)
    assert held(tmp_path / "out") == old


def test_a_disk_full_takes_back_the_folders_that_were_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    failing(monkeypatch, "fsync", 2, OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))
    with pytest.raises(OutputError):
        atomic_write(tmp_path / "made" / "out", NEW)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("locked", NEW)
def test_a_file_held_open_leaves_all_old_results(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, locked: str
) -> None:
    """As where a spreadsheet holds areas.csv open on Windows: it can be neither moved nor replaced."""
    old, real = old_results(tmp_path / "out"), os.replace

    def replace(start: Path, end: Path) -> None:
        if locked in (Path(start).name, Path(end).name):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        real(start, end)

    monkeypatch.setattr(os, "replace", replace)
    with pytest.raises(OutputError, match="Permission denied"):
        atomic_write(tmp_path / "out", NEW)
    assert held(tmp_path / "out") == old


def test_a_folder_where_the_last_file_should_go_leaves_all_old_results(tmp_path: Path) -> None:
    old = old_results(tmp_path / "out")
    (tmp_path / "out" / "c.csv").unlink()
    (tmp_path / "out" / "c.csv" / "in").mkdir(parents=True)
    with pytest.raises(OutputError, match="Is a directory"):
        atomic_write(tmp_path / "out", NEW)
    del old["c.csv"]
    assert held(tmp_path / "out") == old
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["a.json", "b.ply", "c.csv", "notes.txt"]


@pytest.mark.parametrize("name", ["fsync", "replace"])
def test_a_user_who_stops_the_writing_leaves_old_results_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    old = old_results(tmp_path / "out")
    failing(monkeypatch, name, 2, KeyboardInterrupt())
    with pytest.raises(KeyboardInterrupt):
        atomic_write(tmp_path / "out", NEW)
    assert held(tmp_path / "out") == old


def test_a_file_in_the_way_and_a_name_too_long(tmp_path: Path) -> None:
    (tmp_path / "taken").write_bytes(b"mine")
    with pytest.raises(OutputError, match="File exists"):
        atomic_write(tmp_path / "taken", NEW)
    with pytest.raises(OutputError, match="Not a directory"):
        atomic_write(tmp_path / "taken" / "out", NEW)
    with pytest.raises(OutputError, match="File name too long"):
        atomic_write(tmp_path / "made" / ("a" * 300), NEW)
    assert held(tmp_path) == {"taken": b"mine"}
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]
