"""How the add-on is built: each room imports only what is below it, and core as its neighbour in the extension."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.rooms import House, names_used

ADDON = Path(__file__).parents[2] / "addon"
_TREE = ast.parse((ADDON / "__init__.py").read_text(encoding="utf-8"))
(ROOMS,) = (ast.literal_eval(node.value) for node in _TREE.body if isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Name) and node.targets[0].id == "ROOMS")
HOUSE = House(ADDON, {room: rank for rank, room in enumerate(ROOMS)})
HEAVY = {"scipy", "igl", "trimesh"}
OUTSIDE = {"__init__", "right_zip"}  # what registers the rooms, and what is asked before any of them is loaded


def test_every_room_has_its_place() -> None:
    rooms = {HOUSE.room_of(path) for path in HOUSE.files} - OUTSIDE
    assert rooms == set(ROOMS), "say in addon.ROOMS where each stands"


@pytest.mark.parametrize("path", HOUSE.files, ids=lambda path: str(path.relative_to(ADDON)))
def test_a_file_imports_only_rooms_before_its_own_and_no_heavy_library(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if HOUSE.room_of(path) in OUTSIDE:
        return
    assert HOUSE.wrong_imports(text, path) == []
    assert not names_used(ast.parse(text)) & HEAVY
    for node in ast.walk(ast.parse(text)):  # as an extension it lies below bl_ext, where there is no core
        assert not (isinstance(node, ast.ImportFrom) and not node.level and (node.module or "").startswith("core"))


def test_the_rules_can_be_broken() -> None:
    path = ADDON / "scene" / "made_up.py"
    for line in ("from ..plan import job", "from .. import plan", "def f():\n    from ..plan.job import take"):
        assert HOUSE.wrong_imports(line, path) == ["addon/scene/made_up.py imports plan"], line
    assert HOUSE.wrong_imports("from ..names import ids\nfrom ...core.errors import InputError", path) == []
