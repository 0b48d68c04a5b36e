"""GLB and GLTF files are read as the plain mesh: nodes moved, meshes joined, textures passed over."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image

from core.files.mesh_file import MeshFile, read
from core.surface.weld import welded


def crowned(n: int = 9, at: float = 0.0) -> trimesh.Trimesh:
    """An open sheet 160 mm long, its numbers exact in float32."""
    x, y = np.meshgrid(np.arange(n) * 20.0, np.arange(n - 2) * 16.0)
    v = np.stack([x, y, np.round(4096 * np.cos(x / 90) * np.cos(y / 70)) / 256], axis=-1).reshape(-1, 3) + at
    i = np.arange(len(v)).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    return trimesh.Trimesh(v, np.concatenate([np.c_[a, b, c], np.c_[a, c, d]]), process=False)


def corners(reading: MeshFile) -> np.ndarray:
    return reading.surface.vertices[reading.surface.triangles]


def boundary_edges(triangles: np.ndarray) -> int:
    edges = np.sort(np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]]), axis=1)
    return int((np.unique(edges, axis=0, return_counts=True)[1] == 1).sum())


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def textured(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    image = Image.new("RGB", (4, 4), (200, 90, 40))
    visual = trimesh.visual.TextureVisuals(uv=mesh.vertices[:, :2] / 200, image=image)
    return trimesh.Trimesh(mesh.vertices, mesh.faces, visual=visual, process=False)


def put_gltf(folder: Path, shape: trimesh.Trimesh | trimesh.Scene, kind: str = "gltf") -> Path:
    """Written here, because trimesh's own way to the disk leaves .gltf files open."""
    if kind == "glb":
        return put(folder / "a.glb", shape.export(file_type="glb"))
    for file, data in shape.export(file_type="gltf").items():
        put(folder / file.replace("model.gltf", "a.gltf"), data)
    return folder / "a.gltf"


def island_scene() -> tuple[trimesh.Scene, trimesh.Trimesh]:
    """A sheet cut in two textured islands that meet along a seam, one kept 0.5 m aside and moved back by its node."""
    whole = crowned()
    whole.apply_scale(1 / 1024)
    left = whole.triangles_center[:, 0] < 80 / 1024
    scene = trimesh.Scene()
    aside = np.eye(4)
    aside[0, 3] = 0.5
    for part, move in ((left, np.eye(4)), (~left, aside)):
        island = whole.submesh([np.flatnonzero(part)], append=True)
        island.apply_transform(np.linalg.inv(move))
        scene.add_geometry(textured(island), transform=move)
    return scene, whole


@pytest.mark.parametrize("kind", ["glb", "gltf"])
def test_textured_islands_with_a_moved_node_weld_to_the_plain_mesh(tmp_path: Path, kind: str) -> None:
    scene, whole = island_scene()
    path = put_gltf(tmp_path, scene, kind)
    for picture in tmp_path.glob("*.png"):
        picture.unlink()
    got = read(path, None, "panel")
    once = welded(got.surface)
    assert got.unit == "m"
    assert len(got.surface.vertices) > len(once.vertices) == len(whole.vertices)
    assert boundary_edges(once.triangles) == boundary_edges(whole.faces)
    got_set = {tuple(map(tuple, t)) for t in np.round(once.vertices[once.triangles], 9)}
    assert got_set == {tuple(map(tuple, t)) for t in np.round(whole.triangles * 1000.0, 9)}


# Khronos glTF 2.0, 3.7.4: a negative determinant turns the winding; so the outside of a closed body stays outside.
def test_mirrored_and_nested_nodes(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    mirror, turn = np.diag([-2.0, 1, 1, 1]), trimesh.transformations.rotation_matrix(0.5, [1, 2, 3], [4, 5, 6])
    scene.graph.update(frame_to="turned", frame_from="world", matrix=turn)
    scene.add_geometry(trimesh.creation.box((1, 2, 3)), parent_node_name="turned", transform=mirror)
    scene.export(tmp_path / "a.glb")
    got = read(tmp_path / "a.glb", "mm", "panel").surface
    box = trimesh.Trimesh(got.vertices, got.triangles, process=False)
    assert box.volume == pytest.approx(12.0, rel=1e-12)  # 2 x 1 x 2 x 3, positive: outside is outside
    corner = turn[:3, :3] @ np.array([1, 1, 1.5]) + turn[:3, 3]
    assert np.linalg.norm(got.vertices - corner, axis=1).min() < 1e-12


def test_one_mesh_shown_twice_is_joined_and_far_nodes_keep_their_digits(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    far = np.eye(4)
    far[:3, 3] = 12345.678901, -5.0, 1e4
    scene.add_geometry(crowned(), geom_name="skin", node_name="here")
    scene.add_geometry(trimesh.creation.box(), geom_name="bracket")
    scene.graph.update(frame_to="again", matrix=far, geometry="skin")
    scene.export(tmp_path / "a.glb")
    got = read(tmp_path / "a.glb", "mm", "panel").surface
    n = len(crowned().vertices)
    assert len(got.vertices) == 2 * n + 8
    assert np.array_equal(got.vertices[:n], crowned().vertices)  # the order of the meshes in the file
    moved = got.vertices[:n] + far[:3, 3] - got.vertices[n : 2 * n]
    assert np.abs(moved).max() < 1e-11  # float32 would lose a thousandth here


def test_no_word_on_standard_error_or_output(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    island_scene()[0].export(tmp_path / "a.glb")
    read(tmp_path / "a.glb", None, "panel")
    assert capfd.readouterr() == ("", "")


def test_gltf_parts_are_named_as_web_addresses_are(tmp_path: Path) -> None:
    put_gltf(tmp_path, crowned())
    part = next(tmp_path.glob("*.bin"))
    text = (tmp_path / "a.gltf").read_text().replace(part.name, "my%20panel.bin")
    put(tmp_path / "a.gltf", text)
    part.rename(tmp_path / "my panel.bin")
    assert np.array_equal(corners(read(tmp_path / "a.gltf", "mm", "panel")), crowned().triangles)
