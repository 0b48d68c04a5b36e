"""The zips: what is inside, which one is for whom, and the repository that lists them."""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import zipfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import bpy
import pytest

from tests.addon.conftest import EXTENSIONS, ROOT, build, changed, install, is_on, right_zip, uninstall


def test_a_zip_for_another_python_says_which_to_take(zip_path: Path, tmp_path: Path, installed_again: None) -> None:
    """Blender lets it in where versions fit, as after an update of Blender's Python: so the extension must say it."""
    mine, where = right_zip.this_python(), right_zip.this_platform()
    other = {"3.11": "3.13", "3.13": "3.11"}[mine]

    def for_another(text: str) -> str:
        return json.dumps(json.loads(text) | {"python": other})

    wrong = changed(zip_path, tmp_path, {"addon/built_for.json": for_another})
    uninstall()
    sentence = (
        f"this zip of Fillwright is for Blender with Python {other} on {where}, and this is Python {mine} on {where}: "
        f"take {zip_path.name}"
    )
    with pytest.raises(RuntimeError) as caught:
        install(wrong)
    assert str(caught.value).count(sentence) == 1
    assert not hasattr(bpy.types.Scene, "fillwright")
    install(zip_path)  # and the right one goes over it
    assert is_on()


def test_blender_itself_refuses_another_systems_zip(capfd: pytest.CaptureFixture[str]) -> None:
    """It says so by itself, as an error or only in words, and what is installed stays."""
    mine = right_zip.this_platform()
    other = "windows-x64" if mine != "windows-x64" else "linux-x64"
    wrong = build(right_zip.this_python(), other)
    with contextlib.suppress(RuntimeError):
        bpy.ops.extensions.package_install_files(filepath=str(wrong), repo="user_default", enable_on_install=True)
    said = capfd.readouterr()
    assert f"This platform ({mine}) isn't one of ({other})" in said.out + said.err
    assert is_on()
    assert mine in (EXTENSIONS / "user_default" / "fillwright" / "blender_manifest.toml").read_text()


def test_the_tree_itself_goes_anywhere() -> None:
    assert not right_zip.BUILT_FOR.exists()
    right_zip.check()


def test_wheels_are_never_away_while_another_build_fetches_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Tests run several builds at once: each may fetch, and none may find a wheel gone between looking and reading."""
    monkeypatch.syspath_prepend(str(ROOT / ".ci"))
    import extension_wheels

    folder = tmp_path / "wheels"
    folder.mkdir()
    (folder / "a-1.whl").write_bytes(b"old")
    (folder / "b-1.whl").write_bytes(b"to go")

    def fetch_again() -> None:
        for turn in range(300):
            fetched = tmp_path / f"fetched {turn}"
            fetched.mkdir()
            (fetched / "a-1.whl").write_bytes(b"new")
            extension_wheels._put(fetched, folder)

    with ThreadPoolExecutor(1) as other:
        done = other.submit(fetch_again)
        while not done.done():
            assert (folder / "a-1.whl").read_bytes() in (b"old", b"new")
        done.result()
    assert [wheel.name for wheel in folder.iterdir()] == ["a-1.whl"]


def test_only_runtime_files_ship(zip_path: Path) -> None:
    with zipfile.ZipFile(zip_path) as archive:
        names = archive.namelist()
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert names == sorted(names)
    tops = {name.partition("/")[0] for name in names}
    assert tops == {"__init__.py", "LICENSE", "blender_manifest.toml", "addon", "core", "sample_meshes", "wheels"}
    assert {Path(name).suffix for name in names} <= {".py", ".toml", ".json", ".ply", ".stl", ".glb", ".whl", ""}
    assert not [name for name in names if "numpy" in name or "test" in name or "pycache" in name or "/." in name]


def test_the_same_files_make_the_same_zip(zip_path: Path) -> None:
    before = zip_path.read_bytes()
    for path in (ROOT / "addon").glob("*.py"):
        os.utime(path)
    assert build(right_zip.this_python(), right_zip.this_platform()).read_bytes() == before


_BY_ADDRESS = """
import json, os, sys
from pathlib import Path
os.environ["BLENDER_USER_RESOURCES"] = sys.argv[1]
import bpy
preferences = bpy.context.preferences
preferences.system.use_online_access = True  # Blender asks for it whatever the address
repo = preferences.extensions.repos.new(name="Ours", module="ours", remote_url=sys.argv[2])
place = len(preferences.extensions.repos) - 1
assert bpy.ops.extensions.repo_sync(repo_index=place) == {"FINISHED"}
assert bpy.ops.extensions.package_install(repo_index=place, pkg_id="fillwright") == {"FINISHED"}
assert hasattr(bpy.types.Scene, "fillwright")
built = json.loads((Path(repo.directory) / "fillwright" / "addon" / "built_for.json").read_text())
print("took", built["python"], built["platform"])
"""


def test_blender_takes_the_right_zip_from_the_repository(tmp_path: Path) -> None:
    """All zips are built and listed; Blender, given the list's address, picks the one for its Python and system."""
    builder = [sys.executable, str(ROOT / ".ci" / "extension.py")]
    done = subprocess.run(builder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    address = (ROOT / "dist" / "index.json").as_uri()
    words = [sys.executable, "-c", _BY_ADDRESS, str(tmp_path / "profile"), address]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert f"took {right_zip.this_python()} {right_zip.this_platform()}" in done.stdout, done.stdout + done.stderr


@pytest.mark.parametrize(("python", "computer", "told"), [
    ("3.13", "windows-x64", "blender-5.1-and-later-windows-x64.zip"),
    ("3.11", "macos-arm64", "blender-4.5-to-5.0-macos-arm64.zip"),
    ("3.11", "macos-x64", "blender-4.5-to-5.0-macos-x64.zip"),
    ("3.13", "macos-x64", "which there is no zip for yet"),
    ("3.14", "linux-x64", "which there is no zip for yet"),
])
def test_the_sentence_names_the_zip_for_each_system(zip_path: Path, python: str, computer: str, told: str) -> None:
    with zipfile.ZipFile(zip_path) as archive:
        built_for = json.loads(archive.read("addon/built_for.json"))
    said = right_zip.wrong(built_for | {"platform": "linux-arm64"}, python, computer)
    assert said.endswith(told)
    assert said.count(".zip") <= 1
    assert "\n" not in said
    assert right_zip.wrong(built_for, built_for["python"], built_for["platform"]) is None
