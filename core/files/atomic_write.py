"""Write several files whole, or none of them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from ..errors import OutputError

_UNFINISHED, _BEFORE = ".unfinished", ".before"


def atomic_write(folder: Path, contents: Mapping[str, bytes | str]) -> list[Path]:
    """The files written: each name of ``contents`` in ``folder``, which is made where it is missing.

    All are written beside their places first, then what was there is moved aside and they are moved in, so that
    a full disk, a lost connection, a file held open or a user who stops leaves whatever was there before and
    nothing half-written. Raises OutputError, one sentence.
    """
    made: list[Path] = []
    moved: list[tuple[Path, Path]] = []
    paths = [folder / name for name in contents]
    try:
        _make(folder, made)
        for path, content in zip(paths, contents.values(), strict=True):
            _write(_beside(path, _UNFINISHED), content.encode("utf-8") if isinstance(content, str) else content)
        for path in paths:
            if path.is_file():
                _move(path, _beside(path, _BEFORE), moved)
        for path in paths:
            _move(_beside(path, _UNFINISHED), path, moved)
    except BaseException as error:  # a user's stop as well: whatever ends the work, all goes back
        _undo(paths, moved, made)
        if not isinstance(error, OSError):
            raise
        raise OutputError(
            f"output folder {folder}: the results can't be written there ({error.strerror or error}); what was there "
            "before is untouched: make room, close the old results if they are open, or choose another folder"
        ) from error
    for path in paths:
        with suppress(OSError):  # an old file left beside the new ones does no harm
            _beside(path, _BEFORE).unlink()
    return paths


def _beside(path: Path, ending: str) -> Path:
    return path.with_name(path.name + ending)


def _make(folder: Path, made: list[Path]) -> None:
    """Make ``folder`` and those above it that are missing, and note them, the deepest first."""
    try:
        folder.mkdir()
        made.insert(0, folder)
    except FileNotFoundError:
        _make(folder.parent, made)
        folder.mkdir()
        made.insert(0, folder)
    except FileExistsError:
        if not folder.is_dir():
            raise


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())  # a full disk may speak up only here


def _move(start: Path, end: Path, moved: list[tuple[Path, Path]]) -> None:
    os.replace(start, end)
    moved.append((start, end))


def _undo(paths: list[Path], moved: list[tuple[Path, Path]], made: list[Path]) -> None:
    """Everything back to where it was, as far as the disk allows."""
    for start, end in reversed(moved):
        with suppress(OSError):
            os.replace(end, start)
    for path in paths:
        with suppress(OSError):  # its folder may never have been made
            _beside(path, _UNFINISHED).unlink()
    for folder in made:
        with suppress(OSError):  # it may hold something of somebody else's by now
            folder.rmdir()
