"""Write several files whole, or none of them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from ..errors import OutputError

_UNFINISHED = ".unfinished"


def write_whole(folder: Path, contents: Mapping[str, bytes | str]) -> list[Path]:
    """The files written: each name of ``contents`` in ``folder``, which is made where it is missing.

    All are written beside their places first and then moved, so that a full disk or a lost connection
    leaves whatever was there before and nothing half-written. Raises OutputError, one sentence.
    """
    made = [p for p in (folder, *folder.parents) if not p.exists()]
    paths = [folder / name for name in contents]
    unfinished = [path.with_name(path.name + _UNFINISHED) for path in paths]
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in zip(unfinished, contents.values(), strict=True):
            _write(path, content.encode("utf-8") if isinstance(content, str) else content)
        for path, finished in zip(unfinished, paths, strict=True):
            os.replace(path, finished)
    except OSError as error:
        _clear(unfinished, made)
        raise OutputError(
            f"output folder {folder}: the results can't be written there ({error.strerror or error}); "
            "nothing was left half-written; choose another folder or make room"
        ) from error
    return paths


def _write(path: Path, data: bytes) -> None:
    with path.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())  # a full disk may speak up only here


def _clear(unfinished: list[Path], made: list[Path]) -> None:
    for path in unfinished:
        path.unlink(missing_ok=True) if path.parent.is_dir() else None
    for folder in made:
        try:
            folder.rmdir()
        except OSError:  # it was never made, or holds something of somebody else's
            continue
