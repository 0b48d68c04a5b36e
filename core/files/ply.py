"""PLY files, binary and text.

Written here because trimesh refuses a binary file of triangles and quads together, and takes a text
file that was cut short without a word.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Floats, Ints
from .numbers_in_text import numbers_in
from .ply_body import Column, Table, read_table
from .ply_header import read_header
from .polygons import fanned, whole


@dataclass(frozen=True)
class PlyMesh:
    """Points (n, 3) in the file's unit and order, triangles (m, 3), and each other number of a point, (n,)."""

    points: Floats
    triangles: Ints
    properties: dict[str, Column]


def read_ply(data: NDArray[np.uint8], where: str) -> PlyMesh:
    """What the PLY file ``data`` holds; polygons are cut as fans, a file of points alone has no triangles.

    ``where`` begins the sentence of an InputError: a broken header, a file that is cut short or
    longer than its header says. Row numbers are not checked here. Lists of a point are passed over.

    >>> text = b"ply\\nformat ascii 1.0\\nelement vertex 1\\nproperty float x\\nproperty float y\\n"
    >>> text += b"property float z\\nproperty uchar red\\nend_header\\n1 2 3 255\\n"
    >>> mesh = read_ply(np.frombuffer(text, np.uint8), "panel")
    >>> mesh.points, mesh.properties, mesh.triangles.shape
    (array([[1., 2., 3.]]), {'red': array([255.])}, (0, 3))
    """
    header = read_header(data, where)
    body, grain = data[header.body:], 1
    if header.is_text:
        # Read as float64 throughout, a text file is a binary one whose types are all 8 bytes long.
        body, grain = numbers_in(body.tobytes(), where).view(np.uint8), 8
    tables: dict[str, Table] = {}
    for element in header.elements:
        tables[element.name] = table = read_table(element, body, grain, where)
        body = body[table.size:]
    if len(body) and (header.is_text or body.tobytes().strip()):
        raise InputError(f"{where} holds more than its header says; copy or export it again")
    properties = dict(tables["vertex"].numbers) if "vertex" in tables else {}
    return PlyMesh(_points(properties, where), _triangles(tables, where), properties)


def _points(columns: dict[str, Column], where: str) -> Floats:
    """The columns x, y and z, taken out of ``columns``."""
    if not {"x", "y", "z"} <= columns.keys():
        raise InputError(f"{where} has no points with x, y and z; export the mesh again")
    points = np.empty((len(columns["x"]), 3))
    for k, axis in enumerate("xyz"):
        points[:, k] = columns.pop(axis)
    return points


def _triangles(tables: dict[str, Table], where: str) -> Ints:
    if "tristrips" in tables:
        raise InputError(f"{where} keeps its triangles as strips, which are not read; export plain triangles")
    lists = tables["face"].lists if "face" in tables else {}
    corners = lists.get("vertex_indices") or lists.get("vertex_index")
    if corners is None and len(lists) == 1:
        corners = next(iter(lists.values()))
    if corners is None:
        return np.empty((0, 3), dtype=np.int64)
    return fanned(corners.lengths, whole(corners.numbers, where))
