"""The two ways in: files of every kind land where and as large as they are, the selected mesh is taken, refusals."""

from __future__ import annotations

from pathlib import Path

import bpy
import numpy as np
import pytest

from tests.addon.conftest import part, refused
from tests.addon.scenes import Scene, everything


def own() -> bpy.types.PropertyGroup:
    return bpy.context.scene.fillwright


LOW, HIGH = np.array([20.0, 30.0, 50.0]), np.array([320.0, 230.0, 90.0])
_QUADS = ((0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5))
TRIANGLES = [corners for a, b, c, d in _QUADS for corners in ((a, b, c), (a, c, d))]


def box(folder: Path, kind: str) -> Path:
    """300 by 200 by 40, away from the origin, in each format's own words."""
    points = [np.where([k & 4, k & 2, k & 1], HIGH, LOW).tolist() for k in range(8)]
    path, rows = folder / f"Häutung 1.{kind}", [" ".join(map(str, point)) for point in points]
    if kind == "stl":
        facets = "".join(
            f"facet normal 0 0 0\nouter loop\nvertex {rows[a]}\nvertex {rows[b]}\nvertex {rows[c]}\nendloop\nendfacet\n"
            for a, b, c in TRIANGLES
        )
        text = f"solid box\n{facets}endsolid box\n"
    elif kind == "ply":
        head = "ply\nformat ascii 1.0\nelement vertex 8\nproperty float x\nproperty float y\nproperty float z\n"
        head += "element face 12\nproperty list uchar int vertex_indices\nend_header\n"
        text = head + "\n".join([*rows, *(f"3 {a} {b} {c}" for a, b, c in TRIANGLES)]) + "\n"
    else:
        faces = [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in TRIANGLES]
        text = "\n".join([*(f"v {row}" for row in rows), *faces]) + "\n"
    path.write_text(text, encoding="utf-8")
    return path


def glb(path: Path, *middles: tuple[float, float, float]) -> Path:
    """Boxes of 0.3 by 0.2 by 0.04 m (x, y, z of Blender) in a GLB, by Blender's exporter; none is left in the scene."""
    made = []
    for middle in middles:
        mesh = bpy.data.meshes.new("Box")
        share = [np.where([k & 4, k & 2, k & 1], 0.5, -0.5) for k in range(8)]
        mesh.from_pydata([(one * [0.3, 0.2, 0.04] + middle).tolist() for one in share], [], TRIANGLES)
        made.append(bpy.data.objects.new("Box", mesh))
        bpy.context.scene.collection.objects.link(made[-1])
    bpy.ops.export_scene.gltf(filepath=str(path), export_format="GLB")
    bpy.data.batch_remove(made)
    return path


def corners() -> np.ndarray:
    obj = own().panel
    points = np.array([tuple(obj.matrix_world @ v.co) for v in obj.data.vertices])
    return np.array([points.min(axis=0), points.max(axis=0)])


@pytest.mark.parametrize("kind", ["stl", "ply", "obj", "STL"])
def test_a_file_lies_as_it_is_written(empty: bpy.types.Scene, tmp_path: Path, kind: str) -> None:
    """No axis is turned: scan and shape from one place, in different formats, stay on one another."""
    path = box(tmp_path, kind.lower())
    if kind.isupper():
        path = path.rename(path.with_suffix(f".{kind}"))
    assert bpy.ops.fillwright.import_mesh(filepath=str(path), unit="CM") == {"FINISHED"}
    np.testing.assert_allclose(corners(), [LOW, HIGH], atol=1e-4)
    assert own().panel_unit == "CM"
    size, _ = part("addon.sidebar.shown").size_of(bpy.context.scene, [own().panel], "CM")
    assert size == "3000 × 2000 × 400 mm"


def test_a_glb_is_in_metres(empty: bpy.types.Scene, tmp_path: Path) -> None:
    """glTF 2.0, 3.4: all distances are metres, y is up; Blender's importer turns it to z."""
    path = glb(tmp_path / "scan.glb", (0.0, 0.0, 1.0))
    assert bpy.ops.fillwright.import_mesh(filepath=str(path), unit="MM") == {"FINISHED"}
    assert own().panel_unit == "M"
    np.testing.assert_allclose(np.ptp(corners(), axis=0), [0.3, 0.2, 0.04], atol=1e-6)


def test_a_file_of_several_meshes_is_one_panel(empty: bpy.types.Scene, tmp_path: Path) -> None:
    path = glb(tmp_path / "car.glb", (0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    assert bpy.ops.fillwright.import_mesh(filepath=str(path), role="target") == {"FINISHED"}
    assert own().target is None
    assert own().target_collection.name == "car"
    assert len(own().target_collection.objects) == 2
    assert own().panel is None


def test_the_shape_is_imported_as_the_shape(plate: Scene, tmp_path: Path) -> None:
    before = own().panel
    path = box(tmp_path, "stl")
    assert bpy.ops.fillwright.import_mesh(filepath=str(path), role="target", unit="MM") == {"FINISHED"}
    assert own().panel == before
    assert own().target.name.startswith("Häutung 1")


def test_the_selected_mesh_is_taken(plate: Scene) -> None:
    panel = plate.panel_object
    own().panel = None
    own().panel_collection = bpy.data.collections.new("Old")
    bpy.context.view_layer.objects.active = panel
    panel.select_set(True)
    assert bpy.ops.fillwright.take_selected() == {"FINISHED"}
    assert own().panel == panel
    assert own().panel_collection is None
    panel.select_set(False)
    assert refused(bpy.ops.fillwright.take_selected) == "No mesh is selected; click the panel in the view first"


def test_a_mesh_that_cannot_be_used_is_not_taken(plate: Scene) -> None:
    """Without faces; one with points that are nowhere is taken, and said at the plan."""
    bare = bpy.data.objects.new("Points", bpy.data.meshes.new("Points"))
    broken = plate.target_object.copy()
    broken.data = broken.data.copy()
    broken.data.vertices[7].co.z = float("nan")
    for obj in (bare, broken):
        bpy.context.scene.collection.objects.link(obj)
    bpy.ops.object.select_all(action="DESELECT")
    bare.data.vertices.add(3)
    bare.select_set(True)
    bpy.context.view_layer.objects.active = bare
    before = own().panel
    assert "Points has no faces" in refused(bpy.ops.fillwright.take_selected)
    assert own().panel == before
    broken.select_set(True)
    bpy.context.view_layer.objects.active = broken
    assert bpy.ops.fillwright.take_selected() == {"FINISHED"}
    assert own().panel == broken
    assert part("addon.sidebar.shown").size_of(bpy.context.scene, [broken], "MM")[0].startswith("200 × 200 × ")


@pytest.mark.parametrize(("name", "content", "said"), [
    ("scan.fbx", b"x", "scan.fbx came; one of .stl, .ply, .obj, .glb is wanted"),
    ("gone.stl", None, "gone.stl is not there; choose the file again"),
    ("broken.ply", b"not a mesh", "broken.ply can't be imported: "),
    ("points.ply", b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\n"
                   b"end_header\n0 0 0\n1 0 0\n0 1 0\n", "points.ply holds no faces; export the scan as a mesh"),
    ("broken.glb", b"not a mesh", "broken.glb can't be imported: "),
])
def test_what_cannot_be_taken_leaves_the_scene_alone(
    plate: Scene, tmp_path: Path, name: str, content: bytes | None, said: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    before = everything()
    assert refused(bpy.ops.fillwright.import_mesh, filepath=str(tmp_path / name)).startswith(said)
    assert everything() == before
