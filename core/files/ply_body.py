"""The numbers of a PLY file, element by element, as columns.

A list (the corners of a face) has a length of its own in each record, so that where a record begins
is known only from the one before. Where all lengths are equal, as in most meshes, the table is read
at once; where they differ, the beginnings are found by pointer jumping: each byte is asked where the
next record would begin if one began here, and the chain is followed in doubling steps.
Source of the method: Wyllie 1979, list ranking (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..errors import InputError
from ..surface.surface import Ints
from .ply_header import Element

Bytes = NDArray[np.uint8]
Column = NDArray[np.generic]
_BLOCK = 1 << 18
_END = "end of the record"


@dataclass(frozen=True)
class Lists:
    """The lists of a column: their lengths (n,), and all their numbers one after the other."""

    lengths: Ints
    numbers: Column


@dataclass(frozen=True)
class Table:
    """One element's columns by name, and how many bytes of the file it takes."""

    numbers: dict[str, Column]
    lists: dict[str, Lists]
    size: int


def read_table(element: Element, body: Bytes, grain: int, where: str) -> Table:
    """The columns of ``element``, whose records begin at byte 0 of ``body``.

    ``grain`` is the step between bytes where a number may begin (8 where all are float64).
    An InputError, whose sentence begins with ``where``, where the records end too early.
    """
    records = _even_records(element, body)
    if records is not None:
        return _even_table(element, records)
    least = sum((p.count or p.type).itemsize for p in element.properties)
    if any(p.count for p in element.properties) and element.length * least <= len(body):
        starts = _starts(element, body, grain)
        if len(starts) == element.length:
            return _ragged_table(element, body, starts)
    raise InputError(f"{where} is cut short: it ends among the {element.length} records of its element "
                     f"'{element.name}'; copy or export it again")


def _even_records(element: Element, body: Bytes) -> NDArray[np.void] | None:
    """All records at once, where their lists are all as long as in the first; else None."""
    fields: list[Any] = []
    lengths: dict[str, int] = {}
    for p in element.properties:
        if p.count is None:
            fields.append((p.name, p.type))
            continue
        at = np.array([np.dtype(fields).itemsize])
        lengths[_length_of(p.name)] = length = int(_lengths(body, p.count, at)[0]) if element.length else 0
        fields += [(_length_of(p.name), p.count), (p.name, p.type, (length,))]
    layout = np.dtype(fields)
    if element.length == 0:
        return np.empty(0, layout)
    if element.length * layout.itemsize > len(body):
        return None
    records = np.frombuffer(body, layout, element.length)
    return records if all((records[name] == length).all() for name, length in lengths.items()) else None


def _length_of(name: str) -> str:
    return f"length of {name}"  # a property's own name holds no space


def _even_table(element: Element, records: NDArray[np.void]) -> Table:
    numbers = {p.name: _native(records[p.name]) for p in element.properties if p.count is None}
    lists = {}
    for p in element.properties:
        if p.count is not None:
            rows = records[p.name]
            lists[p.name] = Lists(np.full(len(rows), rows.shape[1]), _native(rows).ravel())
    return Table(numbers, lists, records.nbytes)


def _starts(element: Element, body: Bytes, grain: int) -> Ints:
    """The byte where each record begins, (n,); fewer than n where ``body`` ends too early."""
    found: list[Ints] = [np.empty(0, dtype=np.int64)]
    at, missing = 0, element.length
    while missing and at < len(body):
        could = np.arange(at, min(at + _BLOCK * grain, len(body)), grain)
        ends = _places(element, body, could)[_END]
        chain = _chain(np.minimum((ends - at) // grain, len(could)))[:missing]
        if ends[chain[-1]] > len(body):
            break
        found.append(could[chain])
        at, missing = int(ends[chain[-1]]), missing - len(chain)
    return np.concatenate(found)


def _chain(following: Ints) -> Ints:
    """0, what follows 0, what follows that, and so on, until it leaves ``following`` (k,) by a number of k.

    >>> _chain(np.array([2, 3, 3, 9]))
    array([0, 2, 3])
    """
    outside = len(following)
    jump = np.append(np.minimum(following, outside), outside)
    chain = np.zeros(1, dtype=np.int64)
    while chain[-1] < outside:
        chain = np.concatenate([chain, jump[chain]])
        jump = jump[jump]
    return chain[chain < outside]


def _places(element: Element, body: Bytes, starts: Ints) -> dict[str, Ints]:
    """The byte where each property's numbers begin in the records at ``starts`` (n,), and where the records end.

    The lengths of lists are there as well, under the name that `_length_of` gives.
    """
    places: dict[str, Ints] = {}
    at = starts
    for p in element.properties:
        size = p.type.itemsize
        if p.count is None:
            places[p.name], at = at, at + size
        else:
            lengths = places[_length_of(p.name)] = _lengths(body, p.count, at)
            places[p.name] = at + p.count.itemsize
            at = places[p.name] + lengths * size
    places[_END] = at
    return places


def _ragged_table(element: Element, body: Bytes, starts: Ints) -> Table:
    places = _places(element, body, starts)
    numbers, lists = {}, {}
    for p in element.properties:
        if p.count is None:
            numbers[p.name] = _native(_at_every_byte(body, p.type)[places[p.name]])
            continue
        lengths = places[_length_of(p.name)]
        within = np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        at = np.repeat(places[p.name], lengths) + within * p.type.itemsize
        lists[p.name] = Lists(lengths, _native(_at_every_byte(body, p.type)[at]))
    return Table(numbers, lists, int(places[_END][-1]))


def _lengths(body: Bytes, type: np.dtype[np.generic], at: Ints) -> Ints:
    """Lengths of the lists at the bytes ``at``; one that can't be is as long as ``body``, which so ends too early."""
    every = _at_every_byte(body, type)
    if len(every) == 0:
        return np.full(len(at), len(body))
    stated = every[np.minimum(at, len(every) - 1)].astype(np.float64)
    possible = (stated >= 0) & (stated <= len(body)) & (at < len(every))
    return np.where(possible, stated, len(body)).astype(np.int64)


def _at_every_byte(body: Bytes, type: np.dtype[np.generic]) -> Column:
    """The number that begins at each byte, as a view."""
    return np.ndarray((max(len(body) - type.itemsize + 1, 0),), type, body, strides=(1,))


def _native(column: Column) -> Column:
    """A copy that leaves the file's bytes behind, in the machine's own byte order."""
    return column.astype(column.dtype.newbyteorder("="))
