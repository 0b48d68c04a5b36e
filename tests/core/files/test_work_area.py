"""The work area: a mark at each point of a PLY file, or a text of vertex numbers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from core.errors import InputError
from core.files.mesh_file import MeshFile, read
from core.files.work_area import read_work_area
from core.surface.weld import welded

MARK = np.arange(4) % 3 == 0


def sheet() -> trimesh.Trimesh:
    v = np.array([[0, 0, 0], [200, 0, 0], [200, 100, 5], [0, 100, 0]], dtype=np.float64)
    return trimesh.Trimesh(v, [[0, 1, 2], [0, 2, 3]], process=False)


def put(path: Path, data: bytes | str) -> Path:
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return path


def marked(folder: Path, encoding: str = "binary", **columns: np.ndarray) -> Path:
    """Witness: a PLY file written by trimesh with these numbers at its points."""
    mesh = sheet()
    mesh.vertex_attributes.update(columns)
    return put(folder / "area.ply", mesh.export(file_type="ply", encoding=encoding))


@pytest.fixture
def panel(tmp_path: Path) -> MeshFile:
    return read(put(tmp_path / "panel.ply", sheet().export(file_type="ply")), "mm", "panel")


@pytest.mark.parametrize("encoding", ["binary", "ascii"])
@pytest.mark.parametrize("type", ["u1", "i4", "f4", "f8"])
def test_marks_of_a_ply_file(tmp_path: Path, panel: MeshFile, encoding: str, type: str) -> None:
    got = read_work_area(marked(tmp_path, encoding, work_area=MARK.astype(type)), panel)
    assert got.dtype == bool
    assert got.tolist() == MARK.tolist()


def test_the_only_other_property_will_do_and_any_number_but_0_is_inside(tmp_path: Path, panel: MeshFile) -> None:
    assert read_work_area(marked(tmp_path, chalk=MARK * -0.5, nx=np.ones(4), s=np.ones(4)), panel).tolist() == \
        MARK.tolist()
    both = marked(tmp_path, chalk=np.ones(4), work_area=MARK.astype("f4"))
    assert read_work_area(both, panel).tolist() == MARK.tolist()


def test_points_alone_are_enough_for_marks(tmp_path: Path, panel: MeshFile) -> None:
    words = "".join(f"{k} 0 0 {int(inside)}\n" for k, inside in enumerate(MARK))
    path = put(tmp_path / "a.ply", "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
               "property float z\nproperty uchar work_area\nend_header\n" + words)
    assert read_work_area(path, panel).tolist() == MARK.tolist()


@pytest.mark.parametrize("text", ["0 3", "0,3,", "3\r\n0\r\n", "# from 9\n0 # first\n\n3\n3\n",
                                  "\ufeff+0\t3"])
def test_vertex_numbers(tmp_path: Path, panel: MeshFile, text: str) -> None:
    assert read_work_area(put(tmp_path / "a.txt", text), panel).tolist() == MARK.tolist()


def test_numbers_of_an_stl_panel_are_corners_and_outlive_welding(tmp_path: Path) -> None:
    reading = read(put(tmp_path / "p.stl", sheet().export(file_type="stl")), "mm", "panel")
    inside = read_work_area(put(tmp_path / "a.txt", "5"), reading)  # the third corner of the second triangle
    assert np.flatnonzero(inside).tolist() == [5]
    once = welded(reading.surface)
    assert once.row_of_input is not None
    assert once.vertices[once.row_of_input[inside]].tolist() == [[0, 100, 0]]


@pytest.mark.parametrize(("text", "sentence"), [
    ("0 4", "there is no vertex 4; the panel's vertices are 0 to 3"),
    ("-1", "there is no vertex -1"),
    ("0 1.5", "'1.5' is no vertex number"),
    ("left wing", "'left' is no vertex number"),
    ("9" * 40, "is no vertex number"),
    (b"\xff\xfe\x00\x93", "is no vertex number"),
    ("", "is empty"),
    ("# nothing\n", "marks no point"),
])
def test_bad_numbers(tmp_path: Path, panel: MeshFile, text: str | bytes, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence) as caught:
        read_work_area(put(tmp_path / "a.txt", text), panel)
    assert str(caught.value).startswith("work area: ")


def test_bad_marks(tmp_path: Path, panel: MeshFile) -> None:
    with pytest.raises(InputError, match="marks no point"):
        read_work_area(marked(tmp_path, work_area=np.zeros(4)), panel)
    with pytest.raises(InputError, match="found: none"):
        read_work_area(marked(tmp_path, nx=np.ones(4)), panel)
    with pytest.raises(InputError, match="found: one, two"):
        read_work_area(marked(tmp_path, one=np.ones(4), two=np.ones(4)), panel)
    with pytest.raises(InputError, match="not a number at some points"):
        read_work_area(marked(tmp_path, work_area=np.array([1, 0, np.nan, 0])), panel)
    with pytest.raises(InputError, match="there is no file"):
        read_work_area(tmp_path / "none.txt", panel)


def test_marks_for_another_panel(tmp_path: Path, panel: MeshFile) -> None:
    box = trimesh.creation.box()
    box.vertex_attributes["work_area"] = np.ones(8)
    with pytest.raises(InputError, match="has 8 points, the panel's file 4"):
        read_work_area(put(tmp_path / "a.ply", box.export(file_type="ply")), panel)
