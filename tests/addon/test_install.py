"""The zip goes in, on, off, over and out again, offline, and leaves nothing behind."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import socket
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import bpy
import pytest

from tests.addon.conftest import (
    EXTENSIONS,
    PACKAGE,
    ROOT,
    TEMPORARY,
    build,
    install,
    is_on,
    part,
    right_zip,
    uninstall,
)
from tests.addon.scenes import Scene

HANDLERS = [name for name in dir(bpy.app.handlers) if isinstance(getattr(bpy.app.handlers, name), list)]


def traces() -> dict[str, object]:
    """Where an extension may leave something behind."""
    return {
        "files": sorted(str(p.relative_to(EXTENSIONS)) for p in EXTENSIONS.rglob("*")
                        if p.is_file() and p.name != "compat.dat"),  # Blender's own note of what fits
        "modules": sorted(name for name in sys.modules if "fillwright" in name.split(".")),
        "libraries": sorted({name.partition(".")[0] for name in sys.modules} & {"scipy", "igl", "trimesh"}),
        "types": sorted(name for name in dir(bpy.types) if name.upper().startswith("FILLWRIGHT")),
        "operators": sorted(name for name in dir(bpy.ops) if name == "fillwright"),
        "properties": sorted(f"{kind.__name__}.{name}" for kind in (bpy.types.Scene, bpy.types.WindowManager,
                             bpy.types.Object, bpy.types.Mesh) for name in dir(kind) if name.startswith("fillwright")),
        "handlers": sorted(f"{name}: {function.__module__}" for name in HANDLERS
                           for function in getattr(bpy.app.handlers, name) if "fillwright" in function.__module__),
        "menus": sorted(f"{name}: {function.__module__}" for name in dir(bpy.types) if "_MT_" in name
                        for function in getattr(getattr(bpy.types, name).draw, "_draw_funcs", ())
                        if "fillwright" in function.__module__),
        "path": sorted(path for path in sys.path if "fillwright" in path),
        "temporary": sorted(path.name for path in TEMPORARY.iterdir() if "fillwright" in path.name),
    }


def enable() -> None:
    assert bpy.ops.preferences.addon_enable(module=PACKAGE) == {"FINISHED"}


def disable() -> None:
    assert bpy.ops.preferences.addon_disable(module=PACKAGE) == {"FINISHED"}


def changed(zip_path: Path, folder: Path, changes: dict[str, Any]) -> Path:
    """The zip with some of its files changed: name to a function from text to text."""
    place = folder / zip_path.name
    with zipfile.ZipFile(zip_path) as old, zipfile.ZipFile(place, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, changes[name](data.decode()).encode() if name in changes else data)
    return place


def test_uninstalled_it_leaves_nothing_behind(plate: Scene, installed_again: None) -> None:
    assert bpy.ops.fillwright.plan() == {"FINISHED"}
    there = traces()
    assert there["files"], "the test must be able to see it"
    assert there["types"]
    assert there["libraries"] == []
    uninstall()
    assert {name: found for name, found in traces().items() if found} == {}
    assert not hasattr(bpy.context.scene, "fillwright")


def test_wheels_are_where_blender_keeps_them_and_numpy_is_not(plate: Scene) -> None:
    (folder,) = EXTENSIONS.glob(".local/lib/python*/site-packages")
    names = {path.name for path in folder.iterdir()}
    assert {"scipy", "igl", "trimesh"} <= names
    assert not {name for name in names if name.startswith("numpy")}


def test_on_and_off_twice(plate: Scene, monkeypatch: pytest.MonkeyPatch) -> None:
    """Twice the same, without a connection from Blender's own process."""
    def refuse(*_words: object, **_more: object) -> None:
        raise AssertionError("a connection was tried")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    on = traces()
    for _ in range(2):
        disable()
        assert not is_on()
        off = traces()
        assert off["types"] == off["properties"] == off["handlers"] == off["menus"] == []
        enable()
        assert is_on()
        assert traces() == on
    assert bpy.ops.fillwright.plan() == {"FINISHED"}


def test_settings_in_the_file_outlive_off_and_on(plate: Scene, tmp_path: Path) -> None:
    bpy.context.scene.fillwright.true_mm = 0.75
    path = tmp_path / "kept.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    disable()
    bpy.ops.wm.open_mainfile(filepath=str(path))
    bpy.ops.wm.save_mainfile()
    enable()
    bpy.ops.wm.open_mainfile(filepath=str(path))
    assert bpy.context.scene.fillwright.true_mm == 0.75
    assert bpy.context.scene.fillwright.panel.name == plate.panel


def test_a_newer_version_goes_over_an_older(zip_path: Path, tmp_path: Path, installed_again: None) -> None:
    older = changed(zip_path, tmp_path, {
        "blender_manifest.toml": lambda text: text.replace('version = "0.1.0"', 'version = "0.0.9"', 1),
        "addon/ids.py": lambda text: text.replace('CATEGORY = "Fillwright"', 'CATEGORY = "Older"'),
        "core/errors.py": lambda text: text + "\nOLDER = True\n",
    })
    uninstall()
    install(older)
    assert part("addon.ids").CATEGORY == "Older"
    stray = EXTENSIONS / "user_default" / "fillwright" / "addon" / "gone_in_the_newer.py"
    stray.write_text("")
    install(zip_path)  # over it, without taking it out first
    assert is_on()
    assert part("addon.ids").CATEGORY == "Fillwright"
    assert not hasattr(part("core.errors"), "OLDER")
    assert not stray.exists()
    kept = (EXTENSIONS / "user_default" / "fillwright" / "blender_manifest.toml").read_text()
    assert 'version = "0.1.0"' in kept


def test_failing_registration_rolls_back(zip_path: Path, tmp_path: Path, installed_again: None) -> None:
    """One class can't be registered: it is said aloud, nothing of the others stays, and a right zip goes over it."""
    broken = changed(zip_path, tmp_path, {
        "addon/panels.py": lambda text: text + (
            "\n\nclass FILLWRIGHT_PT_broken(bpy.types.Panel):\n    bl_label = 'Broken'\n"
            "    bl_space_type = 'VIEW_3D'\n    bl_region_type = 'UI'\n\n\nCLASSES = (*CLASSES, FILLWRIGHT_PT_broken)\n"
        ),
    })
    uninstall()
    with pytest.raises(RuntimeError, match="FILLWRIGHT_PT_broken"):
        install(broken)
    left = traces()
    assert left["types"] == left["properties"] == left["handlers"] == left["menus"] == []
    assert not is_on()
    install(zip_path)
    assert is_on()


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


def test_only_runtime_files_ship(zip_path: Path) -> None:
    with zipfile.ZipFile(zip_path) as archive:
        names = archive.namelist()
        assert {entry.date_time for entry in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert names == sorted(names)
    tops = {name.partition("/")[0] for name in names}
    assert tops == {"__init__.py", "LICENSE", "blender_manifest.toml", "addon", "core", "sample_meshes", "wheels"}
    assert {Path(name).suffix for name in names} <= {".py", ".toml", ".json", ".ply", ".stl", ".whl", ""}
    assert not [name for name in names if "numpy" in name or "test" in name or "pycache" in name or "/." in name]


def test_the_same_files_make_the_same_zip(zip_path: Path) -> None:
    before = zip_path.read_bytes()
    for path in (ROOT / "addon").glob("*.py"):
        os.utime(path)
    assert build(right_zip.this_python(), right_zip.this_platform()).read_bytes() == before


_OFFLINE = """
import os, socket, sys
os.environ["BLENDER_USER_RESOURCES"] = sys.argv[1]
import bpy
try:
    socket.create_connection(("198.51.100.1", 80), timeout=2)  # an address kept for documents (RFC 5737)
except OSError as error:
    print("offline:", error)
done = bpy.ops.extensions.package_install_files(filepath=sys.argv[2], repo="user_default", enable_on_install=True)
assert done == {"FINISHED"} and hasattr(bpy.types.Scene, "fillwright")
sys.path.insert(0, sys.argv[3])
from tests.addon.scenes import dented_plate
dented_plate(bpy.context.scene)
assert bpy.ops.fillwright.plan() == {"FINISHED"}
print("planned offline")
"""


def no_network() -> list[str]:
    """The command that runs another without any network, where this system has it and allows it."""
    words = ["unshare", "--map-root-user", "--net"]
    if shutil.which("unshare") and subprocess.run([*words, "true"], capture_output=True, check=False).returncode == 0:
        return words
    return []


@pytest.mark.skipif(not no_network(), reason="this system has no unshare(1), or does not allow it")
def test_it_installs_and_plans_without_a_network(zip_path: Path, tmp_path: Path) -> None:
    """In a network namespace of its own with nothing in it: Blender, its installer and the child alike."""
    words = [*no_network(), sys.executable, "-c", _OFFLINE, str(tmp_path / "profile"), str(zip_path), str(ROOT)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert "planned offline" in done.stdout, done.stderr
    assert "unreachable" in done.stdout
