"""GLB and GLTF files, through trimesh, with the transform of each node applied in float64.

Source: Khronos glTF 2.0 specification (ISO/IEC 12113:2022; sections from memory): lengths are in metres (3.4); a node
whose transform has a negative determinant turns the winding of its triangles (3.7.4).
"""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import numpy as np
import trimesh
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Floats, Ints

UNIT = "m"
_CHANGES_NO_SHAPE = re.compile("texture|material|light|visib|animation|xmp", re.IGNORECASE)
_TRIANGLE_FAN = 6


def read_gltf(data: NDArray[np.uint8], path: Path, where: str) -> tuple[Floats, Ints]:
    """Points (n, 3) in metres and triangles (m, 3) of all meshes that the file's scene shows, joined in its order.

    ``data`` is the file at ``path`` (files that it names are looked for beside it), ``where`` begins
    the sentence of an InputError: a broken file, one that keeps its mesh in a way that is not
    read, a missing part. Textures and materials are not opened. Points alone give no triangles.
    """
    try:
        _check_readable(_json_of(data), where)
        scene = trimesh.load_scene(
            io.BytesIO(data.tobytes()), file_type=path.suffix[1:].lower(), resolver=_Beside(path, where),
            process=False, skip_materials=True,
        )
        order = {mesh: k for k, mesh in enumerate(scene.geometry)}
        # trimesh walks a scene's nodes from the last to the first
        placed = sorted((scene.graph[node] for node in scene.graph.nodes_geometry[::-1]), key=lambda it: order[it[1]])
        return _joined([_moved(scene.geometry[mesh], matrix) for matrix, mesh in placed], where)
    except InputError:
        raise
    except Exception as error:  # a damaged file may raise anything inside trimesh, even UnboundLocalError
        raise InputError(f"{where} is cut short or damaged; copy or export it again") from error


class _Beside(trimesh.resolvers.FilePathResolver):
    """Finds the files that a GLTF names, whose names are written as in a web address, beside it."""

    def __init__(self, path: Path, where: str) -> None:
        super().__init__(str(path.absolute()))
        self.where = where

    def get(self, name: str) -> bytes:
        try:
            part: bytes = super().get(unquote(name))
        except (OSError, ValueError) as error:
            raise InputError(f"{self.where} needs the file '{unquote(name)}', which is not beside it; "
                             "put it there, or export one .glb file") from error
        return part


def _json_of(data: NDArray[np.uint8]) -> dict[str, Any]:
    """The JSON of a GLTF file, or of the first chunk of a GLB file."""
    if data[:4].tobytes() == b"glTF":
        length = int(data[12:16].view("<u4")[0])
        data = data[20 : 20 + length]
    header = json.loads(data.tobytes())
    if not isinstance(header, dict):
        raise TypeError(header)
    return header


def _check_readable(header: dict[str, Any], where: str) -> None:
    """Refuse what trimesh would pass over without a word, and so give another shape."""
    needed = [name for name in header.get("extensionsRequired", []) if not _CHANGES_NO_SHAPE.search(name)]
    if needed:
        raise InputError(f"{where} is compressed or packed by '{needed[0]}', which is not read; export it without")
    if any("sparse" in accessor for accessor in header.get("accessors", [])):
        raise InputError(f"{where} keeps numbers as differences ('sparse'), which is not read; export plain triangles")
    if any(p.get("mode") == _TRIANGLE_FAN for mesh in header.get("meshes", []) for p in mesh["primitives"]):
        raise InputError(f"{where} keeps its triangles as fans, which are not read; export plain triangles")


def _moved(mesh: Any, matrix: Floats) -> tuple[Floats, Ints]:
    """Points and triangles of a mesh in its place; a mirrored one is turned, so that its outside stays outside."""
    points = np.asarray(mesh.vertices, dtype=np.float64) @ matrix[:3, :3].T + matrix[:3, 3]
    triangles = np.asarray(getattr(mesh, "faces", np.empty((0, 3))), dtype=np.int64)
    return points, triangles[:, ::-1] if np.linalg.det(matrix[:3, :3]) < 0 else triangles


def _joined(parts: list[tuple[Floats, Ints]], where: str) -> tuple[Floats, Ints]:
    meshes = [part for part in parts if len(part[1])] or parts  # stray points beside a mesh are left out
    if not meshes:
        raise InputError(f"{where} shows no mesh in its scene; export the mesh again")
    starts = np.cumsum([0] + [len(points) for points, _ in meshes])
    triangles = [rows + start for (_, rows), start in zip(meshes, starts, strict=False)]
    return np.concatenate([points for points, _ in meshes]), np.concatenate(triangles)
