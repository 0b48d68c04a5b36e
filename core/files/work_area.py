"""Marks on a panel's points, from a file: the part that is to be planned, damage, what takes no part."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Ints, Mask
from .mesh_file import MeshFile, bytes_of
from .ply import read_ply

PROPERTY = "work_area"
# What PLY writers commonly give a point beside its place: looks, not marks (common practice, no source).
_LOOKS = {"nx", "ny", "nz", "red", "green", "blue", "alpha", "s", "t", "u", "v", "texture_u", "texture_v"}


def read_work_area(path: str | Path, reading: MeshFile, name: str = "work area") -> Mask:
    """True for the vertices that are marked, (k,), over the vertices of the panel's file in its order.

    ``name``: what the marks are, for messages.

    The file at ``path`` is one of two kinds:

    - a PLY file (it may be the panel's own) with as many points as the panel's file, in the same order, and a
      number for each of them: the property ``work_area``, or, without one of that name, the only
      property that is no normal, colour or texture coordinate. Any number but 0 means inside.
    - a text file of vertex numbers counted from 0, divided by spaces, commas or line ends; what follows
      a # is a comment. Of an STL panel the vertices are the triangles' corners, three each.

    An InputError where it is neither, where numbers or counts do not fit the panel, or nothing is marked.
    """
    path, count = Path(path), len(reading.surface.vertices)
    data = bytes_of(path, name)
    where = f"{name}: {path.name}"
    inside = _marked(data, count, where) if data[:3].tobytes() == b"ply" else _numbered(data, count, where)
    if not inside.any():
        raise InputError(f"{where} marks no point of the panel; mark at least one")
    return inside


def _marked(data: NDArray[np.uint8], count: int, where: str) -> Mask:
    mesh = read_ply(data, where)
    if len(mesh.points) != count:
        raise InputError(f"{where} has {len(mesh.points)} points, the panel's file {count}; use a copy of that file")
    names = [name for name in mesh.properties if name == PROPERTY] or [
        name for name in mesh.properties if name.lower() not in _LOOKS
    ]
    if len(names) != 1:
        found = "none" if not names else ", ".join(names)
        raise InputError(f"{where}: a property {PROPERTY} of its points is wanted, found: {found}; name it so")
    marks = mesh.properties[names[0]]
    if np.isnan(marks.astype(np.float64)).any():
        raise InputError(f"{where}: the property {names[0]} is not a number at some points; give 0 or 1 at each")
    inside: Mask = marks != 0
    return inside


def _numbered(data: NDArray[np.uint8], count: int, where: str) -> Mask:
    text = re.sub("#[^\r\n]*", "", data.tobytes().decode("utf-8-sig", errors="replace"))
    words = text.replace(",", " ").split()
    wrong = next((word for word in words if not re.fullmatch("[+-]?[0-9]{1,18}", word)), None)
    if wrong is not None:
        raise InputError(f"{where}: '{wrong[:20]}' is no vertex number; wanted are whole numbers, or a PLY file")
    rows: Ints = np.array(words, dtype=np.int64)
    outside = rows[(rows < 0) | (rows >= count)]
    if len(outside):
        raise InputError(f"{where}: there is no vertex {outside[0]}; the panel's vertices are 0 to {count - 1}")
    inside = np.zeros(count, dtype=bool)
    inside[rows] = True
    return inside
