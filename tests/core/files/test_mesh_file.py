"""Files written by trimesh, by VTK and byte by byte are read as the plain mesh."""

from __future__ import annotations

import hashlib
import struct
from pathlib import Path

import numpy as np
import pytest
import pyvista
import trimesh
from PIL import Image

from core.files.mesh_file import MeshFile, read
from core.surface.weld import welded

SQUARE = np.array([[0, 0, 0], [200, 0, 0], [200, 100, 5], [0, 100, 0.25]])
TWO = np.array([[0, 1, 2], [0, 2, 3]])


def crowned(n: int = 9, at: float = 0.0) -> trimesh.Trimesh:
    """An open sheet 160 mm long, its numbers exact in float32."""
    x, y = np.meshgrid(np.arange(n) * 20.0, np.arange(n - 2) * 16.0)
    v = np.stack([x, y, np.round(4096 * np.cos(x / 90) * np.cos(y / 70)) / 256], axis=-1).reshape(-1, 3) + at
    i = np.arange(len(v)).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    return trimesh.Trimesh(v, np.concatenate([np.c_[a, b, c], np.c_[a, c, d]]), process=False)


def corners(reading: MeshFile) -> np.ndarray:
    return reading.surface.vertices[reading.surface.triangles]


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def ply(body: bytes, order: str = "little", points: int = 4, faces: int = 2, index: str = "int") -> bytes:
    return (f"ply\nformat binary_{order}_endian 1.0\nelement vertex {points}\nproperty float x\nproperty float y\n"
            f"property float z\nelement face {faces}\nproperty list uchar {index} vertex_indices\n"
            "end_header\n").encode() + body


def faces_bytes(polygons: list[list[int]], order: str = "<") -> bytes:
    return b"".join(struct.pack(f"{order}B{len(p)}i", len(p), *p) for p in polygons)


# Witness: trimesh's writers. Vertices and triangles must come back in the order of the arrays that were written.
@pytest.mark.parametrize("encoding", ["binary", "ascii"])
@pytest.mark.parametrize("dress", ["plain", "normals", "colours", "marks"])
def test_ply_by_trimesh(tmp_path: Path, encoding: str, dress: str) -> None:
    mesh = crowned()
    if dress == "colours":
        mesh.visual.vertex_colors = np.tile(np.array([10, 20, 30, 255], np.uint8), (len(mesh.vertices), 1))
    if dress == "marks":
        mesh.vertex_attributes["work_area"] = np.arange(len(mesh.vertices), dtype=np.float32)
        mesh.face_attributes["kind"] = np.arange(len(mesh.faces), dtype=np.int32)
    data = mesh.export(file_type="ply", encoding=encoding, vertex_normal=dress == "normals")
    got = read(put(tmp_path / "a.ply", data), "mm", "panel")
    assert np.array_equal(got.surface.vertices, mesh.vertices)
    assert np.array_equal(got.surface.triangles, mesh.faces)
    expected = {"plain": [], "normals": ["nx", "ny", "nz"], "colours": ["red", "green", "blue", "alpha"],
                "marks": ["work_area"]}
    assert list(got.properties) == expected[dress]
    if dress == "marks":
        assert np.array_equal(got.properties["work_area"], np.arange(len(mesh.vertices)))
    assert got.sha256 == hashlib.sha256((tmp_path / "a.ply").read_bytes()).hexdigest()


# Witness: VTK's writers.
@pytest.mark.parametrize("binary", [True, False])
@pytest.mark.parametrize("kind", ["ply", "stl", "obj"])
def test_files_by_vtk(tmp_path: Path, kind: str, binary: bool) -> None:
    mesh = crowned()
    path = tmp_path / f"a.{kind}"
    pyvista.PolyData.from_regular_faces(mesh.vertices, mesh.faces).save(path, binary=binary)
    got = read(path, "mm", "panel")
    assert np.array_equal(corners(got), mesh.triangles)


@pytest.mark.parametrize("binary", [True, False])
def test_vtk_ply_of_mixed_polygons(tmp_path: Path, binary: bool) -> None:
    x = np.arange(4000)
    points = np.stack([x % 61, x // 61, x * 0], axis=1) * 4.0
    starts = np.random.default_rng(5).integers(0, 3990, 40_000)  # more than one block of bytes
    polygons = [list(range(start, start + 3 + (start % 3 == 0))) for start in starts] + [list(range(7))]
    mesh = pyvista.PolyData(points, faces=np.concatenate([[len(p), *p] for p in polygons]))
    mesh.save(tmp_path / "a.ply", binary=binary, recompute_normals=False)
    fan = [[p[0], p[i], p[i + 1]] for p in polygons for i in range(1, len(p) - 1)]  # the plain loop as a twin
    assert np.array_equal(read(tmp_path / "a.ply", "mm", "panel").surface.triangles, fan)


@pytest.mark.parametrize("ascii_kind", [True, False])
def test_stl_by_trimesh(tmp_path: Path, ascii_kind: bool) -> None:
    mesh = crowned()
    got = read(put(tmp_path / "A.STL", mesh.export(file_type="stl_ascii" if ascii_kind else "stl")), "mm", "panel")
    assert np.array_equal(corners(got), mesh.triangles)
    once = welded(got.surface)
    assert len(once.vertices) == len(mesh.vertices)
    assert np.array_equal(once.vertices[once.triangles], mesh.triangles)


def test_binary_stl_whose_header_begins_with_solid_is_binary(tmp_path: Path) -> None:
    data = crowned().export(file_type="stl")
    got = read(put(tmp_path / "a.stl", b"solid facet normal ".ljust(80) + data[80:]), "mm", "panel")
    assert np.array_equal(corners(got), crowned().triangles)


@pytest.mark.parametrize("index", ["int", "uint"])
def test_ply_big_endian(tmp_path: Path, index: str) -> None:
    mesh = crowned()
    body = mesh.vertices.astype(">f4").tobytes() + faces_bytes(mesh.faces.tolist(), ">")
    data = ply(body, "big", len(mesh.vertices), len(mesh.faces), index=index)
    got = read(put(tmp_path / "a.ply", data), "mm", "panel")
    assert np.array_equal(corners(got), mesh.triangles)
    assert got.surface.vertices.dtype == np.float64
    assert got.surface.triangles.dtype == np.int64


def test_ply_with_other_elements_and_two_ragged_lists(tmp_path: Path) -> None:
    head = ("ply\r\nformat binary_little_endian 1.0\r\ncomment caf\xe9 \x85\r\nobj_info none\r\nelement camera 1\r\n"
            "property double view\r\nelement vertex 4\r\nproperty double x\r\nproperty double y\r\n"
            "property double z\r\nelement face 2\r\nproperty list ushort float texcoord\r\n"
            "property list int short vertex_index\r\n"
            "property uchar flags\r\nelement edge 0\r\nproperty int vertex1\r\nend_header\r\n").encode("latin-1")
    rows = struct.pack("<H6fi3hB", 6, *range(6), 3, 0, 1, 2, 9)
    rows += struct.pack("<H8fi4hB", 8, *range(8), 4, 3, 2, 1, 0, 9)
    data = head + struct.pack("<d", 1) + SQUARE.astype("<f8").tobytes() + rows
    got = read(put(tmp_path / "a.ply", data), "mm", "panel")
    assert np.array_equal(got.surface.vertices, SQUARE)
    assert got.surface.triangles.tolist() == [[0, 1, 2], [3, 2, 1], [3, 1, 0]]


def test_ply_far_away_keeps_every_bit(tmp_path: Path) -> None:
    far = SQUARE + np.array([1e5, -3e6, 7.25])
    words = "".join(f"{x!r} {y!r} {z!r}\n" for x, y, z in far.tolist()) + "3 0 1 2\n3 0 2 3\n"
    head = ply(b"").replace(b"binary_little_endian", b"ascii")
    assert np.array_equal(read(put(tmp_path / "a.ply", head + words.encode()), "mm", "p").surface.vertices, far)
    single = ply(far.astype("<f4").tobytes() + faces_bytes(TWO.tolist()))
    got = read(put(tmp_path / "b.ply", single), "mm", "panel").surface.vertices
    assert np.array_equal(got, far.astype(np.float32).astype(np.float64))


def test_duplicated_and_permuted_vertices_stay_as_they_are(tmp_path: Path) -> None:
    mesh = crowned()
    order = np.random.default_rng(3).permutation(2 * len(mesh.vertices))
    v = np.tile(mesh.vertices, (2, 1))[order]
    f = np.argsort(order)[mesh.faces]
    got = read(put(tmp_path / "a.ply", ply(v.astype("<f4").tobytes() + faces_bytes(f.tolist()), "little", len(v),
                                           len(f))), "mm", "panel")
    assert np.array_equal(got.surface.vertices, v)
    assert np.array_equal(got.surface.triangles, f)
    assert len(welded(got.surface).vertices) == len(mesh.vertices)


# OBJ: from the format's description (points counted from 1; negative numbers count back from the newest point).
@pytest.mark.parametrize("text", [
    "v 0 0 0\nv 200 0 0\nv 200 100 5\nv 0 100 .25\nf 1 2 3\nf 1 3 4\n",
    "# two\nmtllib lost.mtl\no one\nv 0 0 0 1 1 0\nv 200 0 0 1 1 0\nv 200 100 5 1 1 0\nv 0 100 0.25\nvt 0 0\nvt 1 0\n"
    "vn 0 0 1\nusemtl red\ng a\ns off\nf 1/1/1 2/2/1 3/1/1\nusemtl blue\nf 1/2/1 3/1/1 4/2/1 # last\n",
    "v 0 0 0\r\nv 200 0 0\r\nv 200 100 5\r\nv 0 100 0.25\r\nvn 0 0 1\r\nf 1//1 2//1 \\\r\n 3//1 4//1\r\n",
    "v 0 0 0\nv 200 0 0\nv 200 100 5\nf -3 -2 -1\nv 0 100 0.25\nf -4 -2 -1\nl 1 2\n",
    "\tv  0\t0 0\n v 200 0 0\nv 2e2 1e+2 5\nv 0 100 25e-2\nf   1  2 3 4  \n",
])
def test_obj(tmp_path: Path, text: str) -> None:
    got = read(put(tmp_path / "a.obj", text), "mm", "panel")
    assert np.array_equal(got.surface.vertices, SQUARE)
    assert np.array_equal(got.surface.triangles, TWO)


def test_obj_by_trimesh_with_texture(tmp_path: Path) -> None:
    textured(crowned()).export(tmp_path / "a.obj")
    got = read(tmp_path / "a.obj", "mm", "panel")
    assert np.array_equal(corners(got), crowned().triangles)
    for part in tmp_path.glob("*.[mp][tn]*"):
        part.unlink()
    assert np.array_equal(corners(read(tmp_path / "a.obj", "mm", "panel")), crowned().triangles)


def textured(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    image = Image.new("RGB", (4, 4), (200, 90, 40))
    visual = trimesh.visual.TextureVisuals(uv=mesh.vertices[:, :2] / 200, image=image)
    return trimesh.Trimesh(mesh.vertices, mesh.faces, visual=visual, process=False)


def test_units_scale_the_mesh(tmp_path: Path) -> None:
    path = put(tmp_path / "a.stl", crowned().export(file_type="stl"))
    mm = corners(read(path, None, "panel"))
    assert np.allclose(corners(read(path, "in", "panel")), 25.4 * mm, rtol=1e-15)
    assert np.array_equal(corners(read(path, "cm", "panel")), 10 * mm)
    glb = tmp_path / "a.glb"
    crowned().export(glb)
    assert np.array_equal(corners(read(glb, None, "panel")), 1000 * mm)
    stated = read(glb, "mm", "panel")
    assert np.array_equal(corners(stated), mm)
    assert "although its format is always in m" in stated.unit_note
