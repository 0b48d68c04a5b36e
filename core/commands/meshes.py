"""What the commands share: mesh files as arguments and as parts of a job; a mesh and its figures written."""

from __future__ import annotations

import hashlib
import json
from argparse import ArgumentParser
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import InputError
from ..files.atomic_write import atomic_write
from ..files.mesh_bytes import mesh_bytes
from ..files.mesh_file import MeshFile, read
from ..files.source import Source
from ..files.units import MM_PER_UNIT
from ..files.work_area import read_work_area
from ..jobs.part import Part, Piece
from ..jobs.result import Result
from ..report.made_shape import read_trust, trust_columns, trust_record
from ..surface.surface import Mask

FORMAT_VERSION = 1


@dataclass(frozen=True, eq=False)
class MeshPart:
    """A mesh file as it was read, and as a ``part`` of a job, in mm."""

    reading: MeshFile
    part: Part

    @property
    def file(self) -> str:
        """Its name, for what is printed."""
        return self.part.source.file

    @property
    def mm_per_unit(self) -> float:
        """Millimetres in the file's unit."""
        return MM_PER_UNIT[self.reading.unit]

    def marked(self, path: Path | None, name: str = "marks") -> Mask | None:
        """The vertices (k,) that the file at ``path`` marks: vertex numbers, or a PLY property; None for no file.

        ``name``: what the marks are, for messages.
        """
        return None if path is None else read_work_area(path, self.reading, name)


def add_mesh(parser: ArgumentParser, name: str, text: str) -> None:
    """A mesh file and its unit as arguments."""
    parser.add_argument(name, metavar=name.upper(), type=Path, help=text)
    add_unit(parser, name)


def add_unit(parser: ArgumentParser, name: str) -> None:
    """The unit of a mesh file as an argument."""
    parser.add_argument(f"--{name}-unit", metavar="U", help=f"unit of {name.upper()}: {', '.join(MM_PER_UNIT)}")


def add_out(parser: ArgumentParser) -> None:
    """Where the mesh goes, and --quiet."""
    parser.add_argument("--out", metavar="FILE", type=Path, required=True,
                        help="mesh to write, .ply or .stl, in mm; its figures go beside it as .json")
    add_quiet(parser)


def add_quiet(parser: ArgumentParser) -> None:
    """--quiet."""
    parser.add_argument("--quiet", action="store_true", help="no progress and no summary")


def read_part(path: Path, unit: str | None, name: str, lined_up: bool = False) -> MeshPart:
    """The mesh at ``path`` as a part called ``name``; ``lined_up`` as `read_trust` has it."""
    reading = read(path, unit, name)
    trust = read_trust(path, reading, name, lined_up)
    made, trust_mm = (None, None) if trust is None else (trust.made, trust.trust_mm)
    piece = Piece(reading.surface.vertices, reading.surface.triangles, None, made, trust_mm)
    source = Source(path.name, reading.sha256, reading.unit, reading.unit_note)
    return MeshPart(reading, Part(name, (piece,), 1.0, source, () if trust is None else trust.notes))


def write_mesh(
    out: Path, result: Result, kind: str, beside: Mapping[str, bytes] | None = None
) -> list[Path]:
    """Write a job's surface to ``out`` and its record beside it, whole or not at all.

    The columns of the surface, and its trust where it is made up, go with the vertices of a PLY file; an STL file
    has no place for them. ``beside``: further files by name, written with them or not at all. The figures hold the
    mesh file's own checksum, by which it is known again.
    """
    assert result.surface is not None
    if out.suffix.lower() not in (".ply", ".stl"):
        raise InputError(f"--out {out}: a name that ends in .ply or .stl is wanted")
    columns = {name: value.astype(np.float32) for name, value in result.columns.items()}
    mesh = mesh_bytes(result.surface, out.suffix.lower(), {**columns, **trust_columns(result.trust)})
    record = {"format": f"fillwright.{kind}", "version": FORMAT_VERSION,
              "mesh": {"file": out.name, "sha256": hashlib.sha256(mesh).hexdigest()}, **result.record,
              "trust": trust_record(result.trust, result.surface)}
    text = json.dumps(record, indent=1, allow_nan=False) + "\n"
    return atomic_write(out.parent, {out.name: mesh, out.with_suffix(".json").name: text, **(beside or {})})


def told(lines: list[str], warnings: tuple[str, ...], paths: list[Path]) -> str:
    """A summary to print: lines, warnings, and the files made."""
    return "\n".join([*lines, *(f"! {text}" for text in warnings), "Made " + ", ".join(str(path) for path in paths)])


def counted(count: int, word: str) -> str:
    """A number of things in words.

    >>> counted(1, "place"), counted(2, "place")
    ('1 place', '2 places')
    """
    return f"{count} {word}{'' if count == 1 else 's'}"
