"""The zip goes in, on, off, over and out again, offline, and leaves nothing behind."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
from pathlib import Path

import bpy
import pytest

from tests.addon.conftest import EXTENSIONS, PACKAGE, ROOT, TEMPORARY, changed, install, is_on, part, uninstall
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
        "addon/names/ids.py": lambda text: text.replace('CATEGORY = "Fillwright"', 'CATEGORY = "Older"'),
        "core/errors.py": lambda text: text + "\nOLDER = True\n",
    })
    uninstall()
    install(older)
    assert part("addon.names.ids").CATEGORY == "Older"
    stray = EXTENSIONS / "user_default" / "fillwright" / "addon" / "gone_in_the_newer.py"
    stray.write_text("")
    install(zip_path)  # over it, without taking it out first
    assert is_on()
    assert part("addon.names.ids").CATEGORY == "Fillwright"
    assert not hasattr(part("core.errors"), "OLDER")
    assert not stray.exists()
    kept = (EXTENSIONS / "user_default" / "fillwright" / "blender_manifest.toml").read_text()
    assert 'version = "0.1.0"' in kept


def test_failing_registration_rolls_back(zip_path: Path, tmp_path: Path, installed_again: None) -> None:
    """A class can't be registered after all others: that is said aloud, nothing stays, and a right zip goes over it."""
    broken = changed(zip_path, tmp_path, {
        "addon/menus/to_the_end_broken.py": lambda _: (
            "import bpy\n\n\nclass FILLWRIGHT_PT_broken(bpy.types.Panel):\n    bl_label = 'Broken'\n"
            "    bl_space_type = 'VIEW_3D'\n    bl_region_type = 'UI'\n\n\nCLASSES = (FILLWRIGHT_PT_broken,)\n"
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
