"""Read a mesh file: its points and triangles in mm, as the file has them, with its unit and its checksum."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Surface
from ..surface.validate import validate
from .obj import read_obj
from .ply import PlyMesh, read_ply
from .stl import read_stl
from .units import MM_PER_UNIT, chosen_unit, known_unit

FORMATS = (".stl", ".ply", ".obj", ".glb", ".gltf")


@dataclass(frozen=True)
class MeshFile:
    """A mesh as a file has it.

    ``surface`` is in mm, its (k,) vertices in the file's order, not welded (of an STL file: three a triangle);
    ``unit`` that of the file, ``unit_note`` the sentence to print about it; ``sha256`` of the file's bytes
    (of a .gltf file not of those that it names); ``properties`` the numbers, (k,), that a PLY file gives
    each vertex beside its place, as stored.
    """

    surface: Surface
    unit: str
    unit_note: str
    sha256: str
    properties: dict[str, NDArray[np.generic]]


def read(path: str | Path, unit: str | None, name: str) -> MeshFile:
    """The mesh in the file at ``path``: STL, PLY (both binary or text), OBJ, GLB or GLTF.

    ``unit`` is mm, cm, m, in, or None where the user states none (see `units.chosen_unit`). ``name``
    ("panel", "target") begins the sentence of an InputError, raised for a file that is not there, is
    of another format, is broken, holds no triangles, or whose unit can't be told.

    >>> read("nowhere.stl", None, "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel: there is no file nowhere.stl; check the path
    """
    path = Path(path)
    stated = None if unit is None else known_unit(unit, name)
    data = bytes_of(path, name)
    fixed, mesh = _parsed(data, path, f"{name}: {path.name}")
    raw = validate(mesh.points, mesh.triangles, name)
    with np.errstate(over="ignore"):  # what is beyond the range of numbers is refused at the end
        diagonal = raw.diagonal
        chosen, note = chosen_unit(stated, fixed, diagonal, name)
        surface = _scaled(raw, MM_PER_UNIT[chosen])
    if not (np.isfinite(diagonal) and np.isfinite(surface.vertices).all()):
        raise InputError(f"{name}: {path.name} has points too far apart to work with; clean the scan first")
    return MeshFile(surface, chosen, note, hashlib.sha256(data.data).hexdigest(), mesh.properties)


def bytes_of(path: Path, name: str) -> NDArray[np.uint8]:
    """All bytes of the file at ``path``; an InputError, that ``name`` begins, if there are none or it can't be read."""
    if os.path.isdir(path):  # pathlib's own raises where a name is too long or its folder is shut
        raise InputError(f"{name}: {path} is a folder; name a file in it")
    try:
        data = np.fromfile(path, dtype=np.uint8)
    except FileNotFoundError as error:
        raise InputError(f"{name}: there is no file {path}; check the path") from error
    except OSError as error:
        raise InputError(f"{name}: {path} can't be opened ({error.strerror}); check that you may read it") from error
    if len(data) == 0:
        raise InputError(f"{name}: {path.name} is empty; copy or export it again")
    return data


def _parsed(data: NDArray[np.uint8], path: Path, where: str) -> tuple[str | None, PlyMesh]:
    """The unit that the format fixes, if any, and the mesh in the file's own unit."""
    kind = path.suffix.lower()
    if kind == ".ply":
        return None, read_ply(data, where)
    if kind == ".stl":
        return None, PlyMesh(*read_stl(data, where), {})
    if kind == ".obj":
        return None, PlyMesh(*read_obj(data, where), {})
    if kind in (".glb", ".gltf"):
        from . import gltf  # trimesh takes longer to load than a large scan: only where it is needed

        return gltf.UNIT, PlyMesh(*gltf.read_gltf(data, path, where), {})
    raise InputError(f"{where} is of a kind that is not read; wanted is one of {', '.join(FORMATS)}")


def _scaled(surface: Surface, scale: float) -> Surface:
    return surface if scale == 1.0 else Surface(surface.vertices * scale, surface.triangles)
