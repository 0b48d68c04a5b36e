"""The command ``weigh-up``."""

from __future__ import annotations

import csv
import io
import json
from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..files.atomic_write import atomic_write
from ..files.units import MM_PER_UNIT
from ..jobs import weigh_up as job
from ..progress import Progress, report_progress, within
from .meshes import MeshPart, add_mesh, add_quiet, add_unit, counted, read_part, told
from .planning import add_planning, planning_of, settings_asked

DESCRIPTION = """\
Weigh Up: several finished shapes against one panel, side by side.

For each: fill, highs, mass, packs, greatest depth, and the area that is too deep or is to be roughed out first, and
what its plan warns of. Only what is measured is counted: where that is not nearly all of the panel, its share stands
at the end. --rough works on thinned meshes, in a moment."""

_NEARLY_ALL = 0.995


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel, in the shapes' frame or to be lined up")
    parser.add_argument("shapes", metavar="SHAPE", type=Path, nargs="+", help="finished shapes")
    add_unit(parser, "shapes")
    add_planning(parser)
    parser.add_argument("--rough", action="store_true", help="on thinned meshes: quick, and marked rough")
    parser.add_argument("--out", metavar="FILE.json", type=Path, required=True,
                        help="figures to write; a .csv goes beside")
    add_quiet(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Plan for each shape and write the figures side by side."""
    if arguments.out.suffix.lower() != ".json":
        raise InputError(f"--out {arguments.out}: a name that ends in .json is wanted")
    settings = settings_asked(arguments)
    report_progress(progress, 0.0, "Reading the panel")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    shapes = {name: read_part(path, arguments.shapes_unit, f"shape {name}", lined_up=True)
              for name, path in zip(_names(arguments.shapes), arguments.shapes, strict=True)}
    asked = planning_of(arguments, settings, panel, _one_unit(arguments, shapes))
    request = job.Request(panel.part, {name: shape.part for name, shape in shapes.items()}, rough=arguments.rough,
                      **asked.as_fields())
    found = job.run(request, within(progress, 0.1, 0.9))
    record = {"format": "fillwright.weigh-up", "version": 1, **found.record}
    rows = record["shapes"]
    paths = atomic_write(arguments.out.parent, {
        arguments.out.name: json.dumps(record, indent=1, allow_nan=False) + "\n",
        arguments.out.with_suffix(".csv").name: _csv(rows),
    })
    progress(1.0, "Done")
    return told([*(["Rough: on thinned meshes"] if arguments.rough else []), *_table(rows)], found.warnings, paths)


def _one_unit(arguments: Namespace, shapes: dict[str, MeshPart]) -> float:
    """Millimetres in the unit of the shapes' files, which is one where landmarks are given in it."""
    units = sorted({shape.reading.unit for shape in shapes.values()})
    if arguments.landmarks and len(units) > 1:
        raise InputError(f"the shapes are in different units ({', '.join(units)}), and --landmarks in only one; "
                         "weigh up shapes of one unit")
    return MM_PER_UNIT[units[0]]


def _names(paths: list[Path]) -> list[str]:
    """A name for each shape: its file's, with the folder where two files are called the same, else numbered."""
    names = [path.name for path in paths]
    names = [str(path) if names.count(path.name) > 1 else path.name for path in paths]
    return [f"{name} ({names[:k].count(name) + 1})" if name in names[:k] else name for k, name in enumerate(names)]


def _csv(rows: list[dict[str, Any]]) -> str:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows({**row, "warnings": ". ".join(row["warnings"])} for row in rows)
    return text.getvalue()


def _table(rows: list[dict[str, Any]]) -> list[str]:
    heading = f"{'':24}{'fill':>10}{'high':>10}{'deepest':>10}{'laid':>9}{'buy':>10}{'too deep':>11}{'rough out':>11}"
    return [heading, *(_row(row) for row in rows)]


def _row(r: dict[str, Any]) -> str:
    judged = "" if r["judged_share"] >= _NEARLY_ALL else f"   {r['judged_share']:.0%} measured"
    return (
        f"{r['name'][:23]:24}{r['fill_mm3'] / 1000:6.1f} cm³{r['high_mm3'] / 1000:6.1f} cm³{r['deepest_mm']:7.1f} mm"
        f"{r['laid_mass_g']:7.0f} g{counted(r['packs'], r['pack_word']):>10}{r['too_deep_mm2'] / 100:7.0f} cm²"
        f"{r['new_metal_mm2'] / 100:7.0f} cm²{judged}"
    )
