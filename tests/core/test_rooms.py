"""How core is built: which room may import which, who searches trees, what loads when.

Source: the order that data flows in (DEVELOPERS.md); read from the files' own syntax trees, so nothing runs.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.rooms import House, names_used

CORE = Path(__file__).parents[2] / "core"

# A room may import the rooms before it, and itself. Rooms on one line don't import one another.
ORDER = (
    ("errors",),
    ("progress", "settings", "threads"),
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
HOUSE = House(CORE, {room: rank for rank, rooms in enumerate(ORDER) for room in rooms})

BLENDER = {"bpy", "bmesh", "mathutils", "bpy_extras", "bpy_types", "gpu", "gpu_extras", "blf", "addon_utils", "aud"}
# What numpy, scipy, libigl, trimesh and their companions call a search among triangles or points.
TREES = {
    "AABB", "point_mesh_squared_distance", "signed_distance", "hausdorff", "fast_winding_number", "intersect",
    "KDTree", "cKDTree", "BallTree", "NearestNeighbors", "kdtree", "proximity", "ProximityQuery", "closest_point",
    "nearest_point", "closest_point_naive", "rtree", "triangles_tree", "ray", "scipy.spatial", "knn", "octree",
}


def test_every_room_has_its_place() -> None:
    rooms = {HOUSE.room_of(path) for path in HOUSE.files} - {"__init__"}
    assert len(HOUSE.files) > 40
    assert rooms <= set(HOUSE.rank), f"say in ORDER where {rooms - set(HOUSE.rank)} stands"


@pytest.mark.parametrize("path", HOUSE.files, ids=lambda path: str(path.relative_to(CORE)))
def test_a_file_imports_only_rooms_before_its_own_and_no_blender(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    if HOUSE.room_of(path) == "__init__":
        assert not list(HOUSE.rooms_imported(ast.parse(text), path)), "core itself loads nothing"
        return
    assert HOUSE.wrong_imports(text, path) == []
    used = names_used(ast.parse(text))
    assert not used & BLENDER
    if path == CORE / "depth" / "extent.py":
        used -= {"scipy.spatial"}  # for the hull of points in a plane
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
        assert HOUSE.wrong_imports(line, path) == ["core/surface/made_up.py imports planning"], line
    assert HOUSE.wrong_imports("from .weld import welded\nfrom ..errors import InputError\nimport numpy", path) == []
    assert HOUSE.wrong_imports("from .picture import views", CORE / "errors.py") == ["core/errors.py imports picture"]
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
