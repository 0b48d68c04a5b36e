"""What `fetch` does with what pip brings, or does not; no network is asked here."""

from __future__ import annotations

import hashlib
import io
import tarfile
from pathlib import Path

import pytest

from .fetch import NotAsPinned, NotFetched, fetch

SCAN = "scans-1.0/data/scan.ply"
BACKEND = """
from pathlib import Path
def prepare_metadata_for_build_wheel(folder, settings=None):
    made = Path(folder, "scans-1.0.dist-info")
    made.mkdir()
    (made / "METADATA").write_text("Metadata-Version: 2.1\\nName: scans\\nVersion: 1.0\\n")
    return made.name
def build_wheel(folder, settings=None, metadata=None):
    raise SystemExit("a source is only unpacked, never built")
"""
PROJECT = '[build-system]\nrequires = []\nbuild-backend = "backend"\nbackend-path = ["."]\n'


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """All that pip can reach: a folder with one source in it, which needs nothing to be built."""
    shelf = tmp_path / "shelf"
    shelf.mkdir()
    with tarfile.open(shelf / "scans-1.0.tar.gz", "w:gz") as archive:
        files = {"PKG-INFO": "Metadata-Version: 2.1\nName: scans\nVersion: 1.0\n", "pyproject.toml": PROJECT,
                 "backend.py": BACKEND, "data/scan.ply": "ply\n", "data/other.ply": "ply\n"}
        for name, text in files.items():
            member = tarfile.TarInfo(f"scans-1.0/{name}")
            member.size = len(text.encode())
            archive.addfile(member, io.BytesIO(text.encode()))
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", shelf.as_uri())
    return shelf


def sources(tmp_path: Path, sha256: str) -> Path:
    """A file of pins with that one source in it."""
    path = tmp_path / "sources.txt"
    path.write_text(f"--no-binary scans\nscans==1.0 --hash=sha256:{sha256}\n")
    return path


def test_only_the_wanted_file_comes_and_only_once(shelf: Path, tmp_path: Path) -> None:
    """The second time the source is gone from the shelf, and nobody asks for it."""
    archive = shelf / "scans-1.0.tar.gz"
    pinned = sources(tmp_path, hashlib.sha256(archive.read_bytes()).hexdigest())
    fetch(tmp_path / "out", pinned, (SCAN,))
    assert [path for path in (tmp_path / "out").rglob("*") if path.is_file()] == [tmp_path / "out" / SCAN]
    assert (tmp_path / "out" / SCAN).read_text() == "ply\n"
    archive.unlink()
    fetch(tmp_path / "out", pinned, (SCAN,))
    with pytest.raises(NotFetched, match="package registry"):
        fetch(tmp_path / "elsewhere", pinned, (SCAN,))
    assert not (tmp_path / "elsewhere").exists()


def test_another_source_of_the_same_name_is_refused(shelf: Path, tmp_path: Path) -> None:
    """It is named, and nothing of it is unpacked."""
    with pytest.raises(NotAsPinned, match="scans==1.0"):
        fetch(tmp_path / "out", sources(tmp_path, "0" * 64), (SCAN,))
    assert not (tmp_path / "out").exists()
