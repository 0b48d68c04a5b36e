"""OBJ files: the lines that begin with ``v`` and ``f``; materials, textures, normals and groups do not matter.

Written here because trimesh reads faces that count back from the newest point (``f -3 -2 -1``) as if all
points came first, and sorts the points by texture, so that work-area numbers would be lost.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Floats, Ints
from .numbers_in_text import numbers_in
from .polygons import fanned, whole

# Three numbers, or nothing where the line has fewer.
_POINT = re.compile(rb"^[ \t]*v[ \t]+(\S+[ \t]+\S+[ \t]+\S+|)", re.MULTILINE)
_FACE = re.compile(rb"^[ \t]*f[ \t]([^#\n]*)", re.MULTILINE)
_TEXTURE_AND_NORMAL = re.compile(rb"/\S*")


def read_obj(data: NDArray[np.uint8], where: str) -> tuple[Floats, Ints]:
    """Points (n, 3) in the file's unit and order, and triangles (m, 3); polygons are cut as fans.

    ``data`` is the whole file, ``where`` begins the sentence of an InputError. Colours and weights
    after a point's three numbers are passed over. Row numbers are not checked here; a face that
    names point 0 (OBJ counts from 1) comes out as row -1.

    >>> read_obj(np.frombuffer(b"v 0 0 0\\nv 1 0 0\\nv 0 1 0\\nf -3 -2/7 3//1\\n", np.uint8), "panel")[1]
    array([[0, 1, 2]])
    >>> read_obj(np.frombuffer(b"v 0 0 0\\n", np.uint8), "panel")[1].shape
    (0, 3)
    """
    text = data.tobytes().replace(b"\r\n", b"\n").replace(b"\r", b"\n").replace(b"\\\n", b" ")
    points = _POINT.findall(text)
    if b"" in points:
        raise InputError(f"{where} has a point of fewer than three numbers; export it again")
    return numbers_in(b" ".join(points), where).reshape(-1, 3), _triangles(text, where)


def _triangles(text: bytes, where: str) -> Ints:
    faces = b"\n".join(_FACE.findall(text))
    if b"/" in faces:
        faces = _TEXTURE_AND_NORMAL.sub(b"", faces)
    corners, sides = whole(numbers_in(faces, where), where), _words_a_line(faces)
    rows = corners - 1
    if (corners < 0).any():
        known = np.repeat(_points_before_each_face(text), sides)
        rows = np.where(corners < 0, known + corners, rows)
    return fanned(sides, rows)


def _points_before_each_face(text: bytes) -> Ints:
    points = np.array([match.start() for match in _POINT.finditer(text)], dtype=np.int64)
    faces = np.array([match.start() for match in _FACE.finditer(text)], dtype=np.int64)
    return np.searchsorted(points, faces).astype(np.int64)


def _words_a_line(text: bytes) -> Ints:
    """How many words each line has, (lines,).

    >>> _words_a_line(b"1 2 3\\n4  5\\n\\n6")
    array([3, 2, 0, 1])
    >>> _words_a_line(b"")
    array([0])
    """
    characters = np.frombuffer(text + b"\n", dtype=np.uint8)
    blank = characters <= ord(" ")
    ends_word = blank[1:] & ~blank[:-1]
    words = np.concatenate([[0], np.cumsum(ends_word)])
    return np.diff(words[characters == ord("\n")], prepend=0)
