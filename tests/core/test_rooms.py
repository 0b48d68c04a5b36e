"""How core is built: which room may import which, who searches trees, what loads when.

Source: the order that data flows in (DEVELOPERS.md); read from the files' own syntax trees, so nothing runs.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

CORE = Path(__file__).parents[2] / "core"
FILES = sorted(path for path in CORE.rglob("*.py"))

# A room may import the rooms before it, and itself. Rooms on one line don't import one another.
ORDER = (
    ("errors",),
    ("progress", "settings"),
    ("surface",),
    ("files",),
    ("statistics",),
    ("depth",),
    ("place",),
    ("shape",),
    ("fill",),
    ("bench",),
    ("planning",),
    ("legend",),
    ("report",),
    ("map",),
    ("picture",),
    ("jobs",),
    ("commands",),
    ("__main__",),
    ("child",),
)
RANK = {room: rank for rank, rooms in enumerate(ORDER) for room in rooms}

BLENDER = {"bpy", "bmesh", "mathutils", "bpy_extras", "bpy_types", "gpu", "gpu_extras", "blf", "addon_utils", "aud"}
# What numpy, scipy, libigl, trimesh and their companions call a search among triangles or points.
TREES = {
    "AABB", "point_mesh_squared_distance", "signed_distance", "hausdorff", "fast_winding_number", "intersect",
    "KDTree", "cKDTree", "BallTree", "NearestNeighbors", "kdtree", "proximity", "ProximityQuery", "closest_point",
    "nearest_point", "closest_point_naive", "rtree", "triangles_tree", "ray", "scipy.spatial", "knn", "octree",
}


def room_of(path: Path) -> str:
    return path.relative_to(CORE).with_suffix("").parts[0]


def rooms_imported(tree: ast.AST, path: Path) -> Iterator[str]:
    """The room of each thing in core that the file at ``path`` imports, wherever in the file it does so."""
    package = ("core", *path.relative_to(CORE).parent.parts)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (name.name.split(".")[1] for name in node.names if name.name.startswith("core."))
        elif isinstance(node, ast.ImportFrom):
            stem = package[: len(package) - node.level + 1] if node.level else ()
            parts = (*stem, *(node.module or "").split(".")) if node.module else stem
            if parts[0] == "core":
                yield from (parts[1] if len(parts) > 1 else name.name for name in node.names)


def names_used(tree: ast.AST) -> set[str]:
    """Every module imported (whole and by its parts), name and attribute."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            modules = [name.name for name in node.names]
        elif isinstance(node, ast.ImportFrom):
            modules = [node.module or "", *(name.name for name in node.names)]
        elif isinstance(node, ast.Attribute):
            modules = [node.attr]
        else:
            modules = [node.id] if isinstance(node, ast.Name) else []
        found.update(modules, *(module.split(".") for module in modules))
    return found


def wrong_imports(text: str, path: Path) -> list[str]:
    room = room_of(path)
    return [
        f"{path.relative_to(CORE.parent)} imports {other}"
        for other in rooms_imported(ast.parse(text), path)
        if other != room and RANK[other] >= RANK[room]
    ]


def test_every_room_has_its_place() -> None:
    rooms = {room_of(path) for path in FILES} - {"__init__"}
    assert len(FILES) > 40
    assert rooms <= set(RANK), f"say in ORDER where {rooms - set(RANK)} stands"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(CORE)))
def test_a_file_imports_only_rooms_before_its_own_and_no_blender(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if room_of(path) == "__init__":
        assert not list(rooms_imported(ast.parse(text), path)), "core itself loads nothing"
        return
    assert wrong_imports(text, path) == []
    used = names_used(ast.parse(text))
    assert not used & BLENDER
    if path != CORE / "surface" / "nearest.py":
        assert not used & TREES, f"only core/surface/nearest.py searches; {path.name} uses {used & TREES}"


def test_the_rules_can_be_broken() -> None:
    """Each rule finds a file that breaks it: the ways to write an import are all seen."""
    path = CORE / "surface" / "made_up.py"
    for line in (
        "from ..planning import plan", "from .. import planning", "import core.planning.plan",
        "from core.planning.plan import Plan", "from core import planning",
        "def f():\n    from ..planning.plan import Plan",
    ):
        assert wrong_imports(line, path) == ["core/surface/made_up.py imports planning"], line
    assert wrong_imports("from .weld import welded\nfrom ..errors import InputError\nimport numpy", path) == []
    assert wrong_imports("from .picture import views", CORE / "errors.py") == ["core/errors.py imports picture"]
    for line in ("import bpy", "from mathutils import Vector", "def f():\n    import bpy.types"):
        assert names_used(ast.parse(line)) & BLENDER, line
    for line in (
        "import igl\nigl.AABB()", "from igl import signed_distance", "from scipy.spatial import Delaunay",
        "import scipy.spatial as s", "import trimesh.proximity", "mesh.nearest.on_surface()\nmesh.ray",
        "from trimesh import proximity as p",
    ):
        assert names_used(ast.parse(line)) & TREES, line
    assert {"AABB"} <= names_used(ast.parse((CORE / "surface" / "nearest.py").read_text(encoding="utf-8")))


def test_legend_materials_and_labels_need_no_compiled_library() -> None:
    """libigl and scipy stay out of a process that only wants legend, materials, labels or settings."""
    wanted = (
        "core, core.errors, core.progress, core.settings, core.bench.materials, core.bench.passes, "
        "core.legend.legend, core.legend.legend_section, core.legend.drawing, core.files.atomic_write, "
        "core.jobs.registry"
    )
    code = (
        f"import sys, {wanted}\n"
        "core.bench.materials.load()\n"
        "print(sorted({name.split('.')[0] for name in sys.modules} & {'scipy', 'igl', 'trimesh', 'bpy', 'numpy'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=CORE.parent, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "['numpy']"
