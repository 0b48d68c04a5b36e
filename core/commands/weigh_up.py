"""The command ``weigh-up``."""

from __future__ import annotations

import csv
import io
import json
from argparse import ArgumentParser, Namespace
from pathlib import Path
from typing import Any

from ..errors import InputError
from ..files.atomic_write import write_whole
from ..files.mesh_file import read
from ..planning.weigh_up import Weighed, weigh_up
from ..progress import Progress, tell
from ..report.made_shape import read_trust
from .meshes import add_mesh, add_unit, told
from .planning import add_planning, planning_of

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
    parser.add_argument("--quiet", action="store_true", help="no progress and no summary")


def run(arguments: Namespace, progress: Progress) -> str:
    """Plan for each shape and write the figures side by side."""
    if arguments.out.suffix.lower() != ".json":
        raise InputError(f"--out {arguments.out}: a name that ends in .json is wanted")
    asked = planning_of(arguments)
    tell(progress, 0.0, "Reading the panel")
    panel = read(arguments.panel, arguments.panel_unit, "panel")
    names = _names(arguments.shapes)
    shapes = {name: read(path, arguments.shapes_unit, f"shape {name}")
              for name, path in zip(names, arguments.shapes, strict=True)}
    units = sorted({shape.unit for shape in shapes.values()})
    if arguments.landmarks and len(units) > 1:
        raise InputError(f"the shapes are in different units ({', '.join(units)}), and --landmarks in only one; "
                         "weigh up shapes of one unit")
    given = asked.of(panel, next(iter(shapes.values())))
    trusts = {name: read_trust(path, shapes[name], f"shape {name}")
              for name, path in zip(names, arguments.shapes, strict=True)}
    rows = weigh_up(
        panel.surface, {name: shape.surface for name, shape in shapes.items()}, asked.settings, asked.material,
        arguments.rough, progress, given.area, given.lining, given.placing, trusts, given.notes,
    )
    record = {"format": "fillwright.weigh-up", "version": 1, "material": asked.material.name,
              "settings": asked.settings.as_dict(), "rough": arguments.rough, "shapes": [row.as_dict() for row in rows]}
    paths = write_whole(arguments.out.parent, {
        arguments.out.name: json.dumps(record, indent=1, allow_nan=False) + "\n",
        arguments.out.with_suffix(".csv").name: _csv([row.as_dict() for row in rows]),
    })
    progress(1.0, "Done")
    warnings = tuple(f"{row.name}: {text}" for row in rows for text in row.warnings)
    return told([*(["Rough: on thinned meshes"] if arguments.rough else []), *_table(rows)], warnings, paths)


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


def _table(rows: tuple[Weighed, ...]) -> list[str]:
    heading = f"{'':24}{'fill':>10}{'high':>10}{'deepest':>10}{'laid':>9}{'buy':>10}{'too deep':>11}{'rough out':>11}"
    return [heading, *(_row(row) for row in rows)]


def _row(r: Weighed) -> str:
    judged = "" if r.judged_share >= _NEARLY_ALL else f"   {r.judged_share:.0%} measured"
    buy = f"{r.packs} {r.pack_word}{'' if r.packs == 1 else 's'}"
    return (
        f"{r.name[:23]:24}{r.fill_mm3 / 1000:6.1f} cm3{r.high_mm3 / 1000:6.1f} cm3{r.deepest_mm:7.1f} mm"
        f"{r.laid_mass_g:7.0f} g{buy:>10}{r.too_deep_mm2 / 100:7.0f} cm2{r.new_metal_mm2 / 100:7.0f} cm2{judged}"
    )
