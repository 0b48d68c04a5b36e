"""The built extension, installed from its zip into a profile of its own, in Blender as a Python module.

Profile and temporary folder have spaces and accents in their names, so that every test here also tries those.
"""

from __future__ import annotations

import atexit
import importlib.util
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
HOME = Path(tempfile.mkdtemp(prefix="Blechschäden à réparer "))
PROFILE, TEMPORARY = HOME / "Benutzer é", HOME / "tmp ü"
TEMPORARY.mkdir()
atexit.register(shutil.rmtree, HOME, ignore_errors=True)
os.environ["BLENDER_USER_RESOURCES"] = str(PROFILE)  # before Blender starts: nothing of the user's is read or touched
os.environ.update(dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(TEMPORARY)))
tempfile.tempdir = None

import bpy  # noqa: E402

from tests.addon.scenes import Scene, dented_plate, tailgate  # noqa: E402

PACKAGE = "bl_ext.user_default.fillwright"
EXTENSIONS = PROFILE / "extensions"


def _right_zip() -> ModuleType:
    """addon/right_zip.py of the tree, alone: it needs neither Blender nor the rest."""
    spec = importlib.util.spec_from_file_location("right_zip", ROOT / "addon" / "right_zip.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


right_zip = _right_zip()


def build(python: str, platform: str) -> Path:
    """One zip from the tree as it is now; the same files make the same bytes."""
    words = [sys.executable, str(ROOT / ".ci" / "extension.py"), "--python", python, "--platform", platform]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return Path(done.stdout.splitlines()[-1])


def changed(zip_path: Path, folder: Path, changes: dict[str, Any]) -> Path:
    """The zip with some of its files changed or added: name to a function from text to text."""
    place = folder / zip_path.name
    with zipfile.ZipFile(zip_path) as old, zipfile.ZipFile(place, "w") as new:
        for name in sorted({*old.namelist(), *changes}):
            data = old.read(name) if name in old.namelist() else b""
            new.writestr(name, changes[name](data.decode()).encode() if name in changes else data)
    return place


def install(path: Path) -> None:
    """Install a zip as the user does, and enable it."""
    done = bpy.ops.extensions.package_install_files(filepath=str(path), repo="user_default", enable_on_install=True)
    assert done == {"FINISHED"}


def uninstall() -> None:
    """Take it out as the user does."""
    repos = [repo.module for repo in bpy.context.preferences.extensions.repos]
    bpy.ops.extensions.package_uninstall(repo_index=repos.index("user_default"), pkg_id="fillwright")


def is_on() -> bool:
    """Whether the extension is enabled and can be used."""
    return PACKAGE in bpy.context.preferences.addons and hasattr(bpy.types.Scene, "fillwright")


def part(name: str) -> ModuleType:
    """A module of the installed extension, as Blender has loaded it."""
    return sys.modules[f"{PACKAGE}.{name}"]


def refused(operator: object, **words: object) -> str:
    """The one sentence with which an operator refuses."""
    with pytest.raises(RuntimeError) as caught:
        operator(**words)  # type: ignore[operator]
    said = str(caught.value).strip().removeprefix("Error: ")
    assert "\n" not in said
    assert "Traceback" not in said
    return said


@pytest.fixture(scope="session")
def zip_path() -> Path:
    """The zip for the Python and the computer that run, built from the tree as it is now."""
    return build(right_zip.this_python(), right_zip.this_platform())


@pytest.fixture(scope="session", autouse=True)
def extension(zip_path: Path) -> None:
    """Installed and enabled for all tests of one process."""
    install(zip_path)
    assert is_on()


@pytest.fixture
def installed_again(zip_path: Path) -> Iterator[None]:
    """For tests that take the extension out or put another in: afterwards it is there again."""
    yield
    if (EXTENSIONS / "user_default" / "fillwright").exists():
        uninstall()
    install(zip_path)
    assert is_on()


@pytest.fixture
def empty() -> bpy.types.Scene:
    """A new, empty file."""
    bpy.ops.wm.read_homefile(use_empty=True)
    return bpy.context.scene


@pytest.fixture
def plate(empty: bpy.types.Scene) -> Scene:
    """A plate of 200 x 200 mm with a dent, and the flat shape that it should have: planned within a second or two."""
    return dented_plate(empty)


@pytest.fixture
def sample(empty: bpy.types.Scene) -> Scene:
    """The sample panel and its finished shape, read by Blender's own importers."""
    return tailgate(empty)
