"""Meshes as the bytes of a file. Written out here: to load trimesh for it would add a tenth to a large plan."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..surface.surface import Surface

Column = NDArray[Any]
_PLY_WORDS = {"u1": "uchar", "i4": "int", "f4": "float", "f8": "double"}
_PLY_FACE = np.dtype([("count", "u1"), ("vertex_indices", "<i4", 3)])
_STL_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def mesh_bytes(surface: Surface, suffix: str, values: Mapping[str, Column] | None = None) -> bytes:
    """The surface as a binary ``.ply`` (with ``values`` (n,) by name at its vertices) or ``.stl``, in mm.

    In its own file's frame. ``values`` are of a kind that PLY has: uint8, int32, float32 or float64.
    """
    return _stl(surface) if suffix == ".stl" else _ply(surface, values or {})


def _ply(surface: Surface, values: Mapping[str, Column]) -> bytes:
    places = (surface.vertices + surface.origin).astype(np.float32)
    columns = {**dict(zip("xyz", places.T, strict=True)), **values}
    vertices = np.empty(len(places), [(name, column.dtype.newbyteorder("<")) for name, column in columns.items()])
    for name, column in columns.items():
        vertices[name] = column
    faces = np.empty(len(surface.triangles), _PLY_FACE)
    faces["count"], faces["vertex_indices"] = 3, surface.triangles
    properties = [f"property {_PLY_WORDS[column.dtype.str[1:]]} {name}" for name, column in columns.items()]
    heading = [
        "ply", "format binary_little_endian 1.0", f"element vertex {len(vertices)}", *properties,
        f"element face {len(faces)}", "property list uchar int vertex_indices", "end_header\n",
    ]
    return "\n".join(heading).encode("ascii") + vertices.tobytes() + faces.tobytes()


def _stl(surface: Surface) -> bytes:
    triangles = np.zeros(len(surface.triangles), _STL_TRIANGLE)
    triangles["normal"] = surface.normals
    triangles["corners"] = (surface.vertices + surface.origin)[surface.triangles]
    heading = b"Fillwright, mm" if len(triangles) else b"Fillwright: nothing to fill"
    data: bytes = heading.ljust(80, b" ") + len(triangles).to_bytes(4, "little") + triangles.tobytes()
    return data
