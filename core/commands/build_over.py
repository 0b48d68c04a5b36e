"""The command ``build-over``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..jobs import build_over as job
from ..progress import Progress, report_progress, within
from .meshes import add_mesh, add_out, read_part, told, write_mesh

DESCRIPTION = """\
Build Over: the finished shape moved out until no high stands proud any more.

It moves gaps and trim: highs of bare metal are better tapped down or shrunk. --skin-mm leaves that much filler
over the highest."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel, in the finished shape's frame")
    add_mesh(parser, "target", "finished shape")
    parser.add_argument("--skin-mm", metavar="MM", type=float, default=job.Request.skin_mm,
                        help=f"filler over the highest metal ({job.Request.skin_mm:g})")
    parser.add_argument("--material", metavar="NAME", default=job.Request.material, help="what it is filled with")
    parser.add_argument("--materials", metavar="FILE", type=Path, help="your own materials (TOML)")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Find the least offset and write the moved shape."""
    report_progress(progress, 0.0, "Reading the meshes")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    target = read_part(arguments.target, arguments.target_unit, "target", lined_up=True)
    materials = None if arguments.materials is None else str(arguments.materials)
    request = job.Request(panel.part, target.part, arguments.skin_mm, arguments.material, materials)
    found = job.run(request, within(progress, 0.1, 0.9))
    paths = write_mesh(arguments.out, found, "build-over")
    progress(1.0, "Done")
    figures, (moves, *warnings) = found.record, found.warnings
    line = (f"Moved out by {figures['offset_mm']:.2f} mm (highest metal {figures['highest_mm']:.2f} mm): "
            f"{figures['fill_mm3'] / 1000:.1f} cm³, {figures['finished_mass_g']:.0f} g of {figures['material_title']}")
    return told([f"! {moves}", line], tuple(warnings), paths)
