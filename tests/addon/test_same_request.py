"""For every job of the registry: its button asks core for the same as its command does, for one scene.

What either asks for is caught before the work begins. That command and child give the same to the same request,
tests/core/jobs holds; so all three ways give the same.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np
import pytest

from tests.addon.conftest import EXTENSIONS, part, refused
from tests.addon.core_command import write_obj
from tests.addon.plain_shapes import points
from tests.addon.shape_scenes import AT, crowned, mark_damage, own, set_out

OPS = bpy.ops.fillwright
_CATCH = """
import sys
sys.path[:0] = sys.argv[1].split('|')
from pathlib import Path
from core.__main__ import main
from core.jobs.folder import leave
from core.jobs.registry import JOBS
def caught(request, progress):
    leave(Path(sys.argv[3]), "caught", request)
    sys.exit(0)
JOBS[sys.argv[2]].run = caught
sys.exit(main(sys.argv[4:]) or 1)
"""


@dataclass(frozen=True)
class Case:
    """A job's button, what is set in the sidebar before, and the same as words; names of files by what they hold."""

    press: Callable[[], Any]
    words: list[str]
    given: Callable[[], None] = lambda: None


def _settings(**values: Any) -> None:
    for name, value in values.items():
        setattr(own(), name, value)


def _shaping(**values: Any) -> None:
    for name, value in values.items():
        setattr(own().shaping, name, value)


def _marked(name: str, group: str) -> None:
    obj = bpy.data.objects[name]
    mark_damage(obj)
    obj.vertex_groups["Damage"].name = group


def _paint() -> None:
    _settings(painted="PAINTED", paint_mm=0.25)
    _shaping(by_holes=True)
    _marked("Panel", "Set Aside")


def _good() -> None:
    bpy.context.scene.cursor.location = (-90.0, 5.0, 1.0)
    _shaping(good="CURSOR", by_rims=True)
    _marked("Panel", "Set Aside")


def _area() -> None:
    _settings(use_work_area=True, material="polyester", risk=0.125, hand="OLD", scanner="WORKSHOP_LASER")
    _marked("Panel", "Work Area")


def _bad() -> None:
    _shaping(old=bpy.data.objects["Shape"], old_paint_mm=0.375)
    _marked("Shape", "Damage")


def _listed() -> None:
    _area()
    own().shaping.weighed.add().shape = bpy.data.objects["Shape"]


def _selected() -> None:
    for obj in bpy.context.scene.objects:
        obj.select_set(obj.name in {"Panel", "Shape"})


PLANNED = ["--work-area", "MARKS", "--material", "polyester", "--risk", "0.125", "--lay-sigma-mm", "0.2",
           "--scan-error-mm", "0.05", "--scan-error-length-mm", "10", "--line-up-uncertainty-mm", "0.05"]
BOTH = ["Panel", "Shape", "--panel-unit", "mm", "--target-unit", "mm"]
CASES = {
    "plan": Case(lambda: OPS.plan, ["plan", *BOTH, *PLANNED], _area),
    "line_up": Case(lambda: OPS.line_up, ["line-up", *BOTH, "--finish-mm", "0.25", "--locate", "holes", "--aside",
                                          "MARKS"], _paint),
    "good_side": Case(lambda: OPS.from_the_good_side, ["good-side", "Panel", "--body-unit", "mm", "--good", "-90", "5",
                                                       "1", "--locate", "edges", "--aside", "MARKS"], _good),
    "find_damage": Case(lambda: OPS.suggest_damage, ["find-damage", "Panel", "--panel-unit", "mm"]),
    "carry_through": Case(lambda: OPS.carry_through, ["carry-through", "Panel", "--panel-unit", "mm", "--mask",
                                                      "MARKS", "--no-lines"],
                          lambda: (_shaping(lines=False), _marked("Panel", "Damage"))[0]),
    "as_was": Case(lambda: OPS.as_it_was, ["as-was", "Shape", "Panel", "--old-unit", "mm", "--stripped-unit", "mm",
                                           "--paint-mm", "0.375", "--bad", "MARKS"], _bad),
    "metal_level": Case(lambda: OPS.metal_level, ["metal-level", "Shape", "--target-unit", "mm", "--filler-mm", "1.5"],
                        lambda: _shaping(filler_mm=1.5)),
    "build_over": Case(lambda: OPS.build_over, ["build-over", *BOTH, "--skin-mm", "0.5", "--material", "polyester"],
                       lambda: (_shaping(skin_mm=0.5), _settings(material="polyester"))[0]),
    "weigh_up": Case(lambda: OPS.weigh_up, ["weigh-up", "Panel", "Shape", "--panel-unit", "mm", "--shapes-unit", "mm",
                                            *PLANNED], _listed),
    "scanner_error": Case(lambda: OPS.test_scanner, ["test-scanner", "Panel", "Shape", "--a-unit", "mm", "--b-unit",
                                                     "mm"], _selected),
}
ENDINGS = {"plan": "", "weigh_up": ".json", "scanner_error": ".toml", "find_damage": ".txt"}


def test_every_job_has_its_case() -> None:
    assert set(CASES) == set(part("core.jobs.registry").JOBS), "say in CASES which button asks for it, and which words"


@pytest.mark.parametrize("job", CASES)
def test_button_and_command_ask_for_the_same(
    job: str, empty: bpy.types.Scene, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = CASES[job]
    set_out(crowned("Panel"), crowned("Shape", dent_mm=0.0))
    case.given()
    bpy.context.view_layer.update()
    asked = by_button(case, monkeypatch)
    told = by_command(job, case, tmp_path)
    assert type(asked) is type(told)
    same(asked, told, job)


def by_button(case: Case, monkeypatch: pytest.MonkeyPatch) -> Any:
    """What the operator asks a child for; it is refused then, so that nothing is worked out."""
    module, heard = part("addon.child.asked"), []

    def refuse(folder: Path, request: object) -> None:
        heard.append(request)
        raise part("core.errors").OutputError("caught")

    monkeypatch.setattr(module, "ask", refuse)
    assert refused(case.press()) == "caught"
    return heard[0]


def by_command(job: str, case: Case, folder: Path) -> Any:
    """What the command asks its job for, with the same meshes and marks in files."""
    for name in ("Panel", "Shape"):
        obj = bpy.data.objects[name]
        triangles = np.array([tuple(polygon.vertices) for polygon in obj.data.polygons])
        write_obj(folder / f"{name}.obj", points(obj), triangles)
    seen = points(bpy.data.objects["Panel"])
    rows = np.flatnonzero(np.hypot(seen[:, 0] - AT[0], seen[:, 1] - AT[1]) < 42.0)
    (folder / "marks.txt").write_text(" ".join(map(str, rows)), encoding="utf-8")
    files = {"Panel": folder / "Panel.obj", "Shape": folder / "Shape.obj", "MARKS": folder / "marks.txt"}
    words = [str(files.get(word, word)) for word in case.words]
    places = [EXTENSIONS / "user_default" / "fillwright", *EXTENSIONS.rglob("site-packages")]
    out = folder / f"made{ENDINGS.get(job, '.ply')}"
    ran = subprocess.run(
        [sys.executable, "-c", _CATCH, "|".join(map(str, places)), job, folder, *words, "--out", out, "--quiet"],
        capture_output=True, text=True, check=False,
    )
    assert ran.returncode == 0, ran.stderr
    return part("core.jobs.folder").take(folder, "caught", part("core.jobs.registry").JOBS[job].Request)


def same(asked: Any, told: Any, where: str) -> None:
    """Equal but for Blender's single precision, the file's 1 nm, and where the meshes came from."""
    if hasattr(asked, "pieces"):
        for one, other in zip(placed(asked), placed(told), strict=True):
            np.testing.assert_allclose(one, other, atol=1e-5, err_msg=where)
    elif is_dataclass(asked):
        for field in fields(asked):
            same(getattr(asked, field.name), getattr(told, field.name), f"{where}.{field.name}")
    elif isinstance(asked, np.ndarray):
        np.testing.assert_allclose(asked, told, atol=1e-5, err_msg=where)
    elif isinstance(asked, Mapping):
        for one, other in zip(asked.values(), told.values(), strict=True):
            same(one, other, where)
    elif isinstance(asked, float):
        assert asked == pytest.approx(told, rel=1e-6), where
    else:
        assert asked == told, where


def placed(part_of_it: Any) -> list[np.ndarray]:
    """All vertices in mm, and triangles, of the one piece."""
    (piece,) = part_of_it.pieces
    matrix = np.eye(4) if piece.matrix is None else piece.matrix
    return [(piece.vertices @ matrix[:3, :3].T + matrix[:3, 3]) * part_of_it.mm_per_unit, piece.triangles]
