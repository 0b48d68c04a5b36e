"""``blender --command fillwright plan``: core's own files to the byte, and beside them map.blend and pictures."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part
from tests.addon.core_command import core, write_obj
from tests.addon.scenes import _grid

HEAVY = {"scipy", "igl", "trimesh"}
CORE_FILES = ["areas.csv", "fill.stl", "legend.svg", "panel-map.ply", "plan.json"]
PICTURES = ["map-left.png", "map-low-1.png", "map-right.png", "map.png"]


@pytest.fixture
def files(tmp_path: Path) -> list[str]:
    """A plate with one dent of 3 mm, and its finished shape, in folders with spaces and accents."""
    points, triangles = _grid(200.0, 81)
    dent = 3.0 * np.exp(-((points[:, 0] - 10) ** 2 + points[:, 1] ** 2) / (2 * 15.0**2))
    noise = 0.02 * np.random.default_rng(3).standard_normal(len(points))
    folder = tmp_path / "meine Blèche"
    folder.mkdir()
    panel = write_obj(folder / "Tür links.obj", points - np.outer(dent + noise, [0, 0, 1]), triangles)
    return [panel, write_obj(folder / "Form.obj", points, triangles)]


def command(*words: str) -> int:
    return part("addon.command.command_line").command(list(words))


@pytest.mark.drawing
def test_core_files_map_and_pictures(files: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    out, plain = tmp_path / "aus gabe é", tmp_path / "plain"
    words = ["plan", *files, "--panel-unit", "mm", "--target-unit", "mm", "--material", "polyester"]
    words += ["--bump-spacing-mm", "100", "--reserve-share", "0.5", "--surface", "primed", "--lay-sigma-mm", "0.2"]
    assert command(*words, "--out", str(out)) == 0
    assert not HEAVY & {name.split(".")[0] for name in sys.modules}
    said = capfd.readouterr().out
    assert "Low 1" in said
    assert "map.blend" in said
    assert sorted(path.name for path in out.iterdir()) == sorted([*CORE_FILES, "map.blend", *PICTURES])
    done = core(*words, "--out", str(plain))
    assert done.returncode == 0, done.stderr
    for name in CORE_FILES:
        assert (out / name).read_bytes() == (plain / name).read_bytes(), name
    opened(out)


def opened(out: Path) -> None:
    """map.blend, loaded again, shows the plan: panel, target, attributes, contours, settings, shading."""
    bpy.ops.wm.open_mainfile(filepath=str(out / "map.blend"))
    scene, record = bpy.context.scene, json.loads((out / "plan.json").read_text(encoding="utf-8"))
    own = scene.fillwright
    assert (own.panel.name, own.target.name) == ("Tür links", "Form (finished shape)")
    assert (own.panel_unit, own.target_unit, own.material) == ("MM", "MM", "polyester")
    assert (own.surface, own.hand) == ("primed", "OLD")
    assert (own.bump_spacing_mm, own.reserve_share) == pytest.approx((100.0, 0.5))
    assert own.show_map
    assert not own.out_of_date
    assert json.loads(own.record)["fill_volume_mm3"] == record["fill_volume_mm3"]
    assert [area.volume_mm3 for area in own.areas] == pytest.approx([a["volume_mm3"] for a in record["areas"]])
    assert {"fillwright_depth_mm", "fillwright_area", "fillwright_map"} <= set(own.panel.data.attributes.keys())
    assert not bpy.data.objects["Contours"].hide_viewport
    spaces = [a.spaces.active for s in bpy.data.screens for a in s.areas if a.type == "VIEW_3D"]
    assert spaces
    for space in spaces:
        assert (space.shading.type, space.shading.light, space.shading.color_type) == ("SOLID", "FLAT", "VERTEX")
        assert space.clip_end > 200
        # the panel lies flat: it is looked at from above
        np.testing.assert_allclose(space.region_3d.view_rotation.to_matrix().col[2], (0, 0, 1), atol=0.02)
    # planned again in the window it is the same plan: the numbers come from the same mended meshes
    before = own.areas[0].volume_mm3
    assert bpy.ops.fillwright.plan("EXEC_DEFAULT") == {"FINISHED"}
    assert bpy.context.scene.fillwright.areas[0].volume_mm3 == pytest.approx(before, rel=2e-3)


def test_exit_status_is_cores_and_nothing_is_left(files: list[str], tmp_path: Path) -> None:
    out = tmp_path / "out"
    units = ["--panel-unit", "mm", "--target-unit", "mm", "--out", str(out)]
    points, triangles = _grid(200.0, 21)
    far = write_obj(tmp_path / "far.obj", points + [5000.0, 0, 0], triangles)
    for words, status in (
        (["plan", "nowhere.obj", files[1], *units], 2), (["plan", files[0]], 2), (["plan", far, files[1], *units], 3),
        (["plan", "--help"], 0), (["--help"], 0), (["plan", *files, *units, "--material", "butter"], 2),
    ):
        try:
            got = command(*words)
        except SystemExit as end:  # pragma: no cover - it never ends Blender by itself
            got = ("SystemExit", end.code)
        assert got == status == core(*words).returncode, words
        assert not out.exists()


def test_help_speaks_of_what_is_added(capfd: pytest.CaptureFixture[str]) -> None:
    assert command("plan", "--help") == 0
    said = capfd.readouterr().out
    assert "blender --command fillwright plan" in said
    assert "map.blend" in said
    assert "--line-up-uncertainty-mm" in said


@pytest.mark.drawing
def test_a_folder_that_cannot_be_written(
    files: list[str], tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")
    assert command("plan", *files, "--panel-unit", "mm", "--target-unit", "mm", "--out", str(taken)) == 2
    got = capfd.readouterr()
    assert "can't be written" in got.err
    assert "Overbuild" not in got.out
    assert taken.read_text() == "mine"


def test_the_command_goes_with_the_extension(monkeypatch: pytest.MonkeyPatch) -> None:
    """As in Blender itself; its own command line runs in tests/window, where there is a Blender."""
    module, known = part("addon.command.command_line"), []
    assert bpy.app.module
    assert module._registered == []

    class App:
        module = False

    class Utils:
        register_cli_command = staticmethod(lambda name, run: known.append((name, run)) or (name, run))
        unregister_cli_command = staticmethod(known.remove)

    class Bpy:
        app, utils = App, Utils

    monkeypatch.setattr(module, "bpy", Bpy)
    module.register()
    assert known == [("fillwright", module.command)]
    module.unregister()
    assert known == module._registered == []
