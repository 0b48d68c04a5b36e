"""The command ``as-was``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

import numpy as np

from ..depth.shape_trust import together
from ..errors import InputError
from ..files.mesh_bytes import mesh_bytes
from ..progress import Progress, tell
from ..shape.shapes import as_it_was
from ..surface.nearest import Tree
from .carry_through import add_no_lines, carried_line, carried_record
from .meshes import add_mesh, add_out, facing, number, ready, told, write_mesh

DESCRIPTION = """\
As It Was: a scan made before stripping becomes the finished shape, its paint taken off.

OLD is the panel as it came, STRIPPED the bare metal lined up with it. Bad spots of OLD (--bad) are carried through.
Old skin less bare metal less paint is the old filler; its thickness is written at the stripped panel's vertices."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "old", "scan made before stripping")
    add_mesh(parser, "stripped", "scan of the bare panel, in the same frame")
    parser.add_argument("--paint-mm", metavar="MM", type=float, default=0.2,
                        help="paint that was on it (0.2; 0.1 to 0.3 on sound old panels: common practice, no source)")
    parser.add_argument("--bad", metavar="FILE", type=Path, help="bad spots of OLD, to be carried through")
    add_no_lines(parser)
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Make the shape, and the map of the old filler."""
    if not 0 <= arguments.paint_mm <= 10:
        raise InputError(f"--paint-mm {arguments.paint_mm:g}: 0 to 10 mm is wanted")
    tell(progress, 0.0, "Reading the scans")
    old = ready(arguments.old, arguments.old_unit, "old", lined_up=True)
    stripped = ready(arguments.stripped, arguments.stripped_unit, "stripped")
    bare, notes = facing(stripped, old, Tree(old.surface))
    tell(progress, 0.3, "Taking the paint off")
    bad = None if arguments.bad is None else old.marked(arguments.bad, "--bad")
    found = as_it_was(old.surface, bare, arguments.paint_mm, bad, with_lines=not arguments.no_lines)
    thick = found.filler_mm[np.isfinite(found.filler_mm)]
    warnings = (*notes, *found.warnings)
    figures = {
        "old": old.record(), "stripped": stripped.record(), "paint_mm": arguments.paint_mm,
        "old_filler_mm": {"max": number(thick.max()), "p95": number(np.percentile(thick, 95))},
        "carried": None if found.carried is None else carried_record(found.carried),
        "warnings": list(warnings),
    }
    filler = mesh_bytes(bare, ".ply", {"old_filler_mm": found.filler_mm.astype(np.float32)})
    beside = {arguments.out.stem + "-old-filler.ply": filler}
    trust = together(found.trust, old.trust)
    paths = write_mesh(arguments.out, found.surface, figures, "as-was", beside=beside, trust=trust)
    progress(1.0, "Done")
    lines = [f"{arguments.paint_mm:g} mm of paint taken off"]
    lines.append(f"Old filler up to {max(0.0, float(thick.max())):.1f} mm")
    lines += [] if found.carried is None else [carried_line(found.carried)]
    return told(lines, warnings, paths)
