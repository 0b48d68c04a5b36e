"""The header of a PLY file: which elements it holds, in which types.

Source: Turk, "The PLY polygon file format", 1994 (from memory), with the newer type names (int32, float64).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError

_TYPES = {
    "char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4", "float": "f4",
    "double": "f8", "int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4",
    "int64": "i8", "uint64": "u8", "float32": "f4", "float64": "f8",
}
_BYTE_ORDER = {"binary_little_endian": "<", "binary_big_endian": ">", "ascii": ""}
_END = re.compile(rb"^[ \t]*end_header[ \t]*\n", re.MULTILINE)


@dataclass(frozen=True)
class Property:
    """One number of each record, or, where ``count`` is given, a list: its length first, then its numbers."""

    name: str
    type: np.dtype[np.generic]
    count: np.dtype[np.generic] | None = None


@dataclass(frozen=True)
class Element:
    """A table of ``length`` records, each with the same properties."""

    name: str
    length: int
    properties: tuple[Property, ...]


@dataclass(frozen=True)
class Header:
    """The elements in the file's order, whether their numbers are text, and the byte where they begin."""

    elements: tuple[Element, ...]
    is_text: bool
    body: int


def read_header(data: NDArray[np.uint8], where: str) -> Header:
    """The header of the PLY file ``data``; of a text file all types are float64, as its numbers will be read.

    An InputError, whose sentence begins with ``where``, where it is broken or has no end.

    >>> text = b"ply\\nformat ascii 1.0\\nelement vertex 2\\nproperty float x\\nend_header\\n1\\n2\\n"
    >>> header = read_header(np.frombuffer(text, np.uint8), "panel")
    >>> header.elements[0].length, header.elements[0].properties[0].name, text[header.body:]
    (2, 'x', b'1\\n2\\n')
    >>> read_header(np.frombuffer(b"ply\\n", np.uint8), "panel")
    Traceback (most recent call last):
    ...
    core.errors.InputError: panel has a PLY header without an end; copy or export it again
    """
    if data[:3].tobytes() != b"ply":
        raise InputError(f"{where} is not a PLY file, whatever its name says; export the mesh as PLY again")
    start = data[: 1 << 20].tobytes().replace(b"\r\n", b" \n").replace(b"\r", b"\n")
    end = _END.search(start)
    if end is None:
        raise InputError(f"{where} has a PLY header without an end; copy or export it again")
    lines = [line.split() for line in start[: end.start()].decode("latin-1").split("\n")[1:]]
    lines = [line for line in lines if line and line[0] not in ("comment", "obj_info")]
    try:
        order = _BYTE_ORDER[lines[0][1]]
        return Header(_elements(lines[1:], order), order == "", end.end())
    except (LookupError, TypeError, ValueError) as error:
        raise InputError(f"{where} has a broken PLY header; export it again") from error


def _elements(lines: list[list[str]], order: str) -> tuple[Element, ...]:
    """Raises LookupError, TypeError or ValueError on anything that a PLY header may not hold."""
    found: list[tuple[str, int, list[Property]]] = []
    for word, *rest in lines:
        if word == "element":
            name, length = rest
            if int(length) < 0:
                raise ValueError(length)
            found.append((name, int(length), []))
        elif word == "property":
            *types, name = rest
            if any(name == other.name for other in found[-1][2]):
                raise ValueError(name)
            found[-1][2].append(Property(name, *_types(types, order)))
        else:
            raise ValueError(word)
    return tuple(Element(name, length, tuple(properties)) for name, length, properties in found)


def _types(words: list[str], order: str) -> tuple[np.dtype[np.generic], np.dtype[np.generic] | None]:
    """The type of a property's numbers, and of its list's length if it is a list."""
    is_list = len(words) == 3 and words[0] == "list"
    if not is_list and len(words) != 1:
        raise ValueError(words)
    types = [_type(word, order) for word in words[is_list:]]
    return types[-1], types[0] if is_list else None


def _type(word: str, order: str) -> np.dtype[np.generic]:
    stored = _TYPES[word]
    return np.dtype(order + stored) if order else np.dtype(np.float64)
