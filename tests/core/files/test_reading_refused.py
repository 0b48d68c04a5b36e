"""Bad mesh files, each made here, and the sentence that each one gives: what came, what is wanted, what to do."""

from __future__ import annotations

import json
import struct
from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.errors import InputError
from core.files.mesh_file import read

SQUARE = np.array([[0.0, 0, 0], [200, 0, 0], [200, 100, 5], [0, 100, 0]])
TWO = [[0, 1, 2], [0, 2, 3]]


def sheet() -> trimesh.Trimesh:
    """96 triangles, 160 mm by 96 mm, crowned."""
    x, y = np.meshgrid(np.arange(9) * 20.0, np.arange(7) * 16.0)
    v = np.stack([x, y, 16 * np.cos(x / 90) * np.cos(y / 70)], axis=-1).reshape(-1, 3)
    i = np.arange(len(v)).reshape(x.shape)
    a, b, c, d = (part.ravel() for part in (i[:-1, :-1], i[:-1, 1:], i[1:, 1:], i[1:, :-1]))
    return trimesh.Trimesh(v, np.concatenate([np.c_[a, b, c], np.c_[a, c, d]]), process=False)


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def ply(body: bytes, faces: int = 2) -> bytes:
    return (f"ply\nformat binary_little_endian 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
            f"property float z\nelement face {faces}\nproperty list uchar int vertex_indices\n"
            "end_header\n").encode() + body


def faces_bytes(polygons: list[list[int]]) -> bytes:
    return b"".join(struct.pack(f"<B{len(p)}i", len(p), *p) for p in polygons)


STL = sheet().export(file_type="stl")
COUNT = struct.pack("<I", 2 * len(sheet().faces))
GOOD_PLY = ply(SQUARE.astype("<f4").tobytes() + faces_bytes(TWO))
TEXT_PLY = GOOD_PLY.split(b"end_header")[0].replace(b"binary_little_endian", b"ascii") + b"end_header\n"
TEXT_PLY += b"0 0 0\n200 0 0\n200 100 5\n0 100 0\n3 0 1 2\n3 0 2 3\n"
TEXT_STL = sheet().export(file_type="stl_ascii").encode()
OBJ = b"v 0 0 0\nv 200 0 0\nv 200 100 5\n"
GLB = sheet().export(file_type="glb")


def json_glb(change: dict[str, object]) -> bytes:
    length = struct.unpack("<I", GLB[12:16])[0]
    text = json.dumps(json.loads(GLB[20 : 20 + length]) | change).encode()
    text += b" " * (-len(text) % 4)
    rest = GLB[20 + length :]
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(text) + len(rest), len(text), 0x4E4F534A) + text + rest


def float_ply(value: float) -> bytes:
    v = SQUARE.copy()
    v[2, 1] = value
    return ply(v.astype("<f4").tobytes() + faces_bytes(TWO))


BAD: dict[str, tuple[str, bytes, str]] = {
    "empty": ("a.stl", b"", "panel: a.stl is empty"),
    "stl cut short": ("a.stl", STL[:-70], "cut short: it says 96 triangles and holds 94;"),
    "stl cut in its head": ("a.stl", STL[:60], "60 bytes are too few"),
    "stl of text": ("a.stl", b"Dear all,\nplease find the scan attached.\n" * 9, "holds text that is not STL"),
    "stl count lies up": ("a.stl", STL[:80] + COUNT + STL[84:], "it says 192 triangles and holds 96"),
    "stl count lies down": ("a.stl", STL[:80] + b"\5\0\0\0" + STL[84:], "says 5 triangles and holds more"),
    "stl with garbage after it": ("a.stl", STL + b"\0garbage", "says 96 triangles and holds more"),
    "stl without triangles": ("a.stl", STL[:80] + b"\0\0\0\0", "holds no points"),
    "text stl cut short": ("a.stl", TEXT_STL[: len(TEXT_STL) // 2], "cut short or damaged"),
    "text stl without its end": ("a.stl", TEXT_STL.replace(b"endsolid", b""), "cut short or damaged"),
    "text stl of words": ("a.stl", TEXT_STL.replace(b"vertex 0", b"vertex zero", 1), "not a number"),
    "points alone ply": ("a.ply", ply(SQUARE.astype("<f4").tobytes(), faces=0), "points but no triangles"),
    "points alone obj": ("a.obj", OBJ, "points but no triangles"),
    "nothing in obj": ("a.obj", b"# nothing\n", "holds no points"),
    "nan": ("a.ply", float_ply(np.nan), "1 of 4 points are not finite (first: row 2)"),
    "infinite": ("a.ply", float_ply(-np.inf), "1 of 4 points are not finite (first: row 2)"),
    "nan obj": ("a.obj", OBJ + b"v nan 0 0\nf 1 2 3\n", "1 of 4 points are not finite"),
    "nan stl": ("a.stl", STL[:96] + struct.pack("<f", np.nan) + STL[100:], "are not finite (first: row 0)"),
    "too far apart": ("a.obj", OBJ + b"v 1e305 0 0\nf 1 2 4\n", "too far apart"),
    "row out of range ply": ("a.ply", ply(SQUARE.astype("<f4").tobytes() + faces_bytes([[0, 1, 2], [0, 2, 4]])),
                             "1 triangles name points that are not there (first: triangle 1"),
    "negative row ply": ("a.ply", ply(SQUARE.astype("<f4").tobytes() + faces_bytes([[0, 1, -1], [0, 2, 3]])),
                         "(first: triangle 0"),
    "row out of range obj": ("a.obj", OBJ + b"f 1 2 4\n", "points that are not there"),
    "row 0 obj": ("a.obj", OBJ + b"f 0 1 2\n", "points that are not there"),
    "row too far back obj": ("a.obj", OBJ + b"f -4 -2 -1\n", "points that are not there"),
    "broken row obj": ("a.obj", OBJ + b"f 1 2 x\n", "not a number"),
    "half a row obj": ("a.obj", OBJ + b"f 1 2 2.5\n", "not whole numbers"),
    "short point obj": ("a.obj", OBJ + b"v 1 2\nf 1 2 3\n", "fewer than three numbers"),
    "decimal commas": ("a.obj", b"v 0,5 1 1\nv 1 1 1\nv 2 1 2\nf 1 2 3\n", "not a number"),
    "unknown format": ("a.xyz", b"1 2 3\n", "wanted is one of .stl, .ply, .obj, .glb, .gltf"),
    "no format": ("scan", STL, "wanted is one of .stl"),
    "not ply": ("a.ply", STL, "is not a PLY file"),
    "no end of header": ("a.ply", GOOD_PLY.replace(b"end_header", b"end"), "header without an end"),
    "unknown type": ("a.ply", GOOD_PLY.replace(b"float y", b"flaot y"), "broken PLY header"),
    "unknown encoding": ("a.ply", GOOD_PLY.replace(b"binary_little", b"zipped"), "broken PLY header"),
    "no count": ("a.ply", GOOD_PLY.replace(b"vertex 4", b"vertex"), "broken PLY header"),
    "negative count": ("a.ply", GOOD_PLY.replace(b"vertex 4", b"vertex -4"), "broken PLY header"),
    "property first": ("a.ply", GOOD_PLY.replace(b"element vertex 4\n", b""), "broken PLY header"),
    "same name twice": ("a.ply", GOOD_PLY.replace(b"float y", b"float x"), "broken PLY header"),
    "strange line": ("a.ply", GOOD_PLY.replace(b"element face", b"elephant face"), "broken PLY header"),
    "no z": ("a.ply", GOOD_PLY.replace(b"float z", b"float depth"), "no points with x, y and z"),
    "ply cut in faces": ("a.ply", GOOD_PLY[:-3], "cut short: it ends among the 2 records of its element 'face'"),
    "ply cut in points": ("a.ply", GOOD_PLY[:-40], "cut short: it ends among the 4 records of its element 'vertex'"),
    "ply cut at its head": ("a.ply", ply(b""), "cut short: it ends among the 4 records"),
    "ply of billions": ("a.ply", GOOD_PLY.replace(b"face 2", b"face 99999999999999"), "cut short"),
    "ply too long": ("a.ply", GOOD_PLY + b"\1\2\3", "more than its header says"),
    "ply list length mad": ("a.ply", ply(SQUARE.astype("<f4").tobytes() + faces_bytes([[0, 1, 2]]) + b"\xff" * 13),
                            "cut short"),
    "text ply cut short": ("a.ply", TEXT_PLY[:-3], "cut short"),
    "text ply lacks a face": ("a.ply", TEXT_PLY[:-8], "cut short"),
    "text ply of words": ("a.ply", TEXT_PLY.replace(b"200 0 0", b"200 oh 0"), "not a number"),
    "text ply too long": ("a.ply", TEXT_PLY + b"3 0 1 2\n", "more than its header says"),
    "text ply half a row": ("a.ply", TEXT_PLY.replace(b"3 0 1 2", b"3 0 1 1.5"), "not whole numbers"),
    "text ply nan row": ("a.ply", TEXT_PLY.replace(b"3 0 1 2", b"3 0 1 nan"), "not whole numbers"),
    "text ply negative length": ("a.ply", TEXT_PLY.replace(b"3 0 1 2", b"-3 0 1 2"), "cut short"),
    "strips": ("a.ply", GOOD_PLY.replace(b"element face", b"element tristrips"), "as strips"),
    "glb cut short": ("a.glb", GLB[: len(GLB) // 2 // 4 * 4], "cut short or damaged"),
    "glb cut in its head": ("a.glb", GLB[:9], "cut short or damaged"),
    "glb of noise": ("a.glb", GLB[:20] + b"\x93" * 4000, "cut short or damaged"),
    "glb without views": ("a.glb", GLB.replace(b'"bufferViews"', b'"bufferSpews"'), "cut short or damaged"),
    "not glb": ("a.glb", STL, "cut short or damaged"),
    "glb compressed": ("a.glb", json_glb({"extensionsRequired": ["KHR_draco_mesh_compression"]}),
                       "packed by 'KHR_draco_mesh_compression'"),
    "glb without scene": ("a.glb", json_glb({"scenes": [{}], "scene": 0}), "shows no mesh"),
    "gltf of noise": ("a.gltf", b"{" * 40, "cut short or damaged"),
    "unit unknown": ("a.obj", b"v 0 0 0\nv 2 0 0\nv 2 1 0\nf 1 2 3\n", "its unit is not known"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input(tmp_path: Path, case: str) -> None:
    file, data, sentence = BAD[case]
    with pytest.raises(InputError) as caught:
        read(put(tmp_path / file, data), "mm" if case == "too far apart" else None, "panel")
    words = str(caught.value)
    assert sentence in words
    assert words.startswith("panel: ")
    assert "\n" not in words
    assert "Traceback" not in words


def test_gltf_without_its_bin(tmp_path: Path) -> None:
    path = put(tmp_path / "a.gltf", sheet().export(file_type="gltf")["model.gltf"])
    with pytest.raises(InputError, match=r"panel: a.gltf needs the file '.*\.bin', which is not beside it"):
        read(path, None, "panel")


def test_no_file_a_folder_and_an_unknown_unit(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="panel: there is no file"):
        read(tmp_path / "none.stl", None, "panel")
    with pytest.raises(InputError, match="target: .* is a folder"):
        read(tmp_path, None, "target")
    with pytest.raises(InputError, match="the unit 'yd' is not known; use mm, cm, m or in"):
        read(put(tmp_path / "a.stl", STL), "yd", "panel")


@pytest.mark.parametrize("kind", ["ply", "stl", "obj", "glb"])
def test_no_traceback_whatever_is_cut_or_changed(tmp_path: Path, kind: str) -> None:
    rng = np.random.default_rng(11)
    whole = sheet().export(file_type=kind)
    whole = whole.encode() if isinstance(whole, str) else whole
    refused = 0
    for _ in range(60):
        data = np.frombuffer(whole, np.uint8)[: rng.integers(1, len(whole) + 1)].copy()
        data[rng.integers(0, len(data), 3)] = rng.integers(0, 256, 3)
        path = put(tmp_path / f"a.{kind}", data.tobytes())
        try:
            got = read(path, "mm", "panel")
        except InputError:
            refused += 1
            continue
        assert np.isfinite(got.surface.vertices).all()
        assert 0 <= got.surface.triangles.min() <= got.surface.triangles.max() < len(got.surface.vertices)
    assert refused > 30
