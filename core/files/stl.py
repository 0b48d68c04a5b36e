"""STL files, binary and text. Each triangle brings its own three corners: nothing is welded here.

Source: the layout as commonly published (80 bytes of header, a count, 50 bytes a triangle, all
little-endian); there is no standard. The header of a binary file may begin with "solid", as
the text kind does, so the kind is told by the count and the size first.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Floats, Ints
from .numbers_in_text import numbers_in

_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_HEAD = 84
_VERTEX = re.compile(rb"^[ \t]*vertex[ \t]+(\S+[ \t]+\S+[ \t]+\S+)", re.MULTILINE)


def read_stl(data: NDArray[np.uint8], where: str) -> tuple[Floats, Ints]:
    """Corners (3m, 3) in the file's unit and order, and triangles (m, 3): rows 0 1 2, 3 4 5 and so on.

    ``data`` is the whole file, ``where`` begins the sentence of an InputError: a file that is cut
    short, whose count lies, or that is no STL file.

    >>> text = b"solid a\\n facet normal 0 0 1\\n outer loop\\n vertex 0 0 0\\n vertex 1 0 0\\n vertex 0 1 0\\n"
    >>> text += b" endloop\\n endfacet\\nendsolid a\\n"
    >>> read_stl(np.frombuffer(text, np.uint8), "panel")[1]
    array([[0, 1, 2]])
    >>> read_stl(np.frombuffer(b"solid a\\nendsolid a\\n", np.uint8), "panel")[0].shape
    (0, 3)
    """
    if len(data) >= _HEAD and len(data) == _HEAD + _stated_count(data) * _TRIANGLE.itemsize:
        corners = np.frombuffer(data, _TRIANGLE, offset=_HEAD)["corners"].reshape(-1, 3)
    elif _is_text(data):
        corners = _from_text(data.tobytes(), where)
    else:
        raise InputError(_what_is_wrong(data, where))
    return corners.astype(np.float64), np.arange(len(corners), dtype=np.int64).reshape(-1, 3)


def _stated_count(data: NDArray[np.uint8]) -> int:
    return int(data[80:_HEAD].view("<u4")[0])


def _is_text(data: NDArray[np.uint8]) -> bool:
    """No zero byte near the start: a binary header or its count always has some."""
    return bool((data[:512] != 0).all())


def _from_text(text: bytes, where: str) -> Floats:
    text = text.replace(b"\r", b"\n").lower()
    if not text.lstrip().startswith(b"solid"):
        raise InputError(f"{where} holds text that is not STL; export the mesh as STL again")
    rows = _VERTEX.findall(text)
    whole = len(rows) == 3 * text.count(b"endfacet") and b"endsolid" in text[-1024:]
    if not whole:
        raise InputError(f"{where} is cut short or damaged: its last triangle or its end is missing; copy it again")
    return numbers_in(b" ".join(rows), where).reshape(-1, 3)


def _what_is_wrong(data: NDArray[np.uint8], where: str) -> str:
    if len(data) < _HEAD:
        return f"{where} is cut short: {len(data)} bytes are too few for an STL file; copy or export it again"
    count, held = _stated_count(data), (len(data) - _HEAD) / _TRIANGLE.itemsize
    if held < count:
        return f"{where} is cut short: it says {count} triangles and holds {int(held)}; copy or export it again"
    return f"{where} says {count} triangles and holds more than that; export it again"
