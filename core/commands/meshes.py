"""What the commands that make a mesh share: their arguments, meshes read and mended, a mesh and its figures written."""

from __future__ import annotations

import hashlib
import json
from argparse import ArgumentParser
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from ..depth.outer_side import facing_target
from ..depth.shape_trust import ShapeTrust
from ..errors import InputError
from ..files.atomic_write import write_whole
from ..files.mesh_bytes import mesh_bytes
from ..files.mesh_file import Reading, read
from ..files.units import MM_PER_UNIT
from ..files.work_area import read_work_area
from ..report.made_shape import read_trust, trust_columns, trust_record
from ..surface.condition import Condition, mend
from ..surface.nearest import Tree
from ..surface.surface import Floats, Mask, Surface

FORMAT_VERSION = 1


@dataclass(frozen=True, eq=False)
class Mesh:
    """A mesh file made ready: as it was read, mended in mm about its own middle, and its condition; ``came``: the
    trust of the file's vertices, where it was itself made here."""

    reading: Reading
    surface: Surface
    condition: Condition
    file: str
    came: ShapeTrust | None = None

    @property
    def trust(self) -> ShapeTrust | None:
        """The trust of the mended surface's vertices, where it was itself made here."""
        return None if self.came is None else self.came.moved(self.surface)

    def record(self) -> dict[str, Any]:
        """Where it came from, for JSON."""
        return {"file": self.file, "sha256": self.reading.sha256, "unit": self.reading.unit,
                "vertices": self.condition.vertices, "triangles": self.condition.triangles}

    def marked(self, path: Path, name: str = "marks") -> Mask:
        """The mended surface's vertices (n,) that the file at ``path`` marks: vertex numbers, or a PLY property.

        ``name``: what the marks are, for messages.
        """
        came = read_work_area(path, self.reading, name)
        row = self.surface.row_of_input
        marks = np.zeros(len(self.surface.vertices), dtype=bool)
        if row is not None:
            marks[row[came & (row >= 0)]] = True
        return marks


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
    parser.add_argument("--quiet", action="store_true", help="no progress and no summary")


def ready(path: Path, unit: str | None, name: str, lined_up: bool = False) -> Mesh:
    """The mesh at ``path``, mended, counted from the middle of its box; ``lined_up`` as `read_trust` has it."""
    reading = read(path, unit, name)
    raw = reading.surface
    surface, condition = mend(raw.about(raw.origin + 0.5 * (raw.box[0] + raw.box[1])), name)
    return Mesh(reading, surface, condition, path.name, read_trust(path, reading, name, lined_up))


def facing(panel: Mesh, target: Mesh, tree: Tree) -> tuple[Surface, tuple[str, ...]]:
    """The panel in the target's frame, turned to face as it does, and what was turned."""
    here = panel.surface.about(target.surface.origin)
    turned, notes = facing_target(here, target.surface, tree)
    return replace(turned, origin=target.surface.origin), notes


def write_mesh(
    out: Path, surface: Surface, figures: dict[str, Any], kind: str, values: Mapping[str, Floats] | None = None,
    beside: Mapping[str, bytes] | None = None, trust: ShapeTrust | None = None,
) -> list[Path]:
    """Write ``surface`` to ``out`` and ``figures`` beside it, whole or not at all.

    ``values`` (n,) by name, and ``trust`` where the shape is made up, go with the vertices of a PLY file; an STL file
    has no place for them. ``beside``: further files by name, written with them or not at all. The figures hold the
    mesh file's own checksum, by which it is known again.
    """
    if out.suffix.lower() not in (".ply", ".stl"):
        raise InputError(f"--out {out}: a name that ends in .ply or .stl is wanted")
    columns = {name: value.astype(np.float32) for name, value in (values or {}).items()}
    mesh = mesh_bytes(surface, out.suffix.lower(), {**columns, **trust_columns(trust)})
    record = {"format": f"fillwright.{kind}", "version": FORMAT_VERSION,
              "mesh": {"file": out.name, "sha256": hashlib.sha256(mesh).hexdigest()}, **figures,
              "trust": trust_record(trust, surface)}
    text = json.dumps(record, indent=1, allow_nan=False) + "\n"
    return write_whole(out.parent, {out.name: mesh, out.with_suffix(".json").name: text, **(beside or {})})


def number(value: float) -> float | None:
    """A figure for JSON: null where there is none."""
    return float(value) if np.isfinite(value) else None


def told(lines: list[str], warnings: tuple[str, ...], paths: list[Path]) -> str:
    """A summary to print: lines, warnings, and the files made."""
    return "\n".join([*lines, *(f"! {text}" for text in warnings), "Made " + ", ".join(str(path) for path in paths)])
