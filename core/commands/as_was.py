"""The command ``as-was``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..files.mesh_bytes import mesh_bytes
from ..jobs import as_was as job
from ..progress import Progress, report_progress, within
from .carry_through import add_no_lines, carried_line
from .meshes import add_mesh, add_out, read_part, told, write_mesh

DESCRIPTION = """\
As It Was: a scan made before stripping becomes the finished shape, its paint taken off.

OLD is the panel as it came, STRIPPED the bare metal lined up with it. Bad spots of OLD (--bad) are carried through.
Old skin less bare metal less paint is the old filler; its thickness is written at the stripped panel's vertices."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "old", "scan made before stripping")
    add_mesh(parser, "stripped", "scan of the bare panel, in the same frame")
    parser.add_argument("--paint-mm", metavar="MM", type=float, default=job.Request.paint_mm,
                        help=f"paint that was on it ({job.Request.paint_mm:g}; 0.1 to 0.3 on sound old panels: common "
                             "practice, no source)")
    parser.add_argument("--bad", metavar="FILE", type=Path, help="bad spots of OLD, to be carried through")
    add_no_lines(parser)
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Make the shape, and the map of the old filler."""
    report_progress(progress, 0.0, "Reading the scans")
    old = read_part(arguments.old, arguments.old_unit, "old", lined_up=True)
    stripped = read_part(arguments.stripped, arguments.stripped_unit, "stripped")
    bad = old.marked(arguments.bad, "--bad")
    request = job.Request(old.part, stripped.part, arguments.paint_mm, bad, not arguments.no_lines)
    found = job.run(request, within(progress, 0.1, 0.9))
    assert found.mapped is not None
    assert found.mapped_mm is not None
    filler = mesh_bytes(found.mapped, ".ply", {"old_filler_mm": found.mapped_mm.astype(np.float32)})
    paths = write_mesh(arguments.out, found, "as-was", {arguments.out.stem + "-old-filler.ply": filler})
    progress(1.0, "Done")
    figures = found.record
    lines = [f"{arguments.paint_mm:g} mm of paint taken off",
             f"Old filler up to {max(0.0, figures['old_filler_mm']['max']):.1f} mm"]
    lines += [] if figures["carried"] is None else [carried_line(figures["carried"])]
    return told(lines, found.warnings, paths)
