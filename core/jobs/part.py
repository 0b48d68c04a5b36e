"""What a job is given: meshes, with what is known of them. numpy only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..files.source import Source
from ..place.locate_by import Locating

Array = NDArray[Any]


@dataclass(frozen=True, eq=False)
class Piece:
    """One mesh: ``vertices`` (k, 3) in its own coordinates and ``triangles`` (m, 3); ``matrix`` (4, 4) from there into
    the common frame, None where it lies there already. ``made`` and ``trust_mm`` (k,) of a finished shape that was made
    here, as `depth.shape_trust` has them; None of one as designed."""

    vertices: Array
    triangles: Array
    matrix: Array | None = None
    made: Array | None = None
    trust_mm: Array | None = None


@dataclass(frozen=True, eq=False)
class Part:
    """What plays one part in a job: one mesh or several ``pieces``, ``mm_per_unit`` of their common frame.

    ``name``: what it is called where it came from, for messages; ``notes``: what is to be minded of its trust. Marks
    and maps of a part go over its pieces' vertices, one piece after the other.
    """

    name: str
    pieces: tuple[Piece, ...]
    mm_per_unit: float = 1.0
    source: Source = field(default_factory=Source)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class LiningUp:
    """That a panel is to be lined up: from ``landmarks`` (k, 2, 3), points on it and on the shape, in mm in the frame
    of each, where there are any; held by what is ``locating`` it, without its vertices that are ``aside`` (k,)."""

    landmarks: Array | None = None
    locating: Locating = field(default_factory=Locating)
    aside: Array | None = None


def between_units(matrix: Array, from_mm: float, to_mm: float) -> Array:
    """``matrix`` (4, 4), from one frame into another in mm, for frames whose units are ``from_mm`` and ``to_mm``.

    >>> between_units(np.array([[1.0, 0, 0, 50], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]]), 1000.0, 10.0)[0].tolist()
    [100.0, 0.0, 0.0, 5.0]
    """
    matrix = np.array(matrix, dtype=np.float64)
    matrix[:3, :3] *= from_mm / to_mm
    matrix[:3, 3] /= to_mm
    return matrix


@dataclass(frozen=True, eq=False)
class Answer:
    """What a job found, as it crosses from one process to another: figures by name, lengths in mm; and arrays."""

    record: dict[str, Any]
    arrays: Mapping[str, Array]
