"""The command ``build-over``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..bench.materials import pick
from ..errors import InputError
from ..planning.warn import coverage
from ..progress import Progress, tell
from ..shape.shapes import MOVES, build_over
from ..surface.nearest import Tree
from .meshes import add_mesh, add_out, facing, ready, told, write_mesh

DESCRIPTION = """\
Build Over: the finished shape moved out until no high stands proud any more.

It moves gaps and trim: highs of bare metal are better tapped down or shrunk. --skin-mm leaves that much filler
over the highest."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "panel", "scan of the panel, in the finished shape's frame")
    add_mesh(parser, "target", "finished shape")
    parser.add_argument("--skin-mm", metavar="MM", type=float, default=0.0, help="filler over the highest metal (0)")
    parser.add_argument("--material", metavar="NAME", default="tin-lead-30-70", help="what it is filled with")
    parser.add_argument("--materials", metavar="FILE", type=Path, help="your own materials (TOML)")
    add_out(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Find the least offset and write the moved shape."""
    if not 0 <= arguments.skin_mm <= 20:
        raise InputError(f"--skin-mm {arguments.skin_mm:g}: 0 to 20 mm is wanted")
    material = pick(arguments.material, arguments.materials)
    tell(progress, 0.0, "Reading the meshes")
    panel = ready(arguments.panel, arguments.panel_unit, "panel")
    target = ready(arguments.target, arguments.target_unit, "target", lined_up=True)
    tree = Tree(target.surface)
    here, notes = facing(panel, target, tree)
    built = build_over(
        here, target.surface, tree, arguments.skin_mm, lambda s, step: progress(0.2 + 0.6 * s, step), target.trust,
    )
    warnings = (*notes, *coverage(here, built.survey), *built.warnings)
    mass_g = built.fill_mm3 / 1000 * material.density_g_cm3
    figures = {
        "panel": panel.record(), "target": target.record(), "highest_mm": built.highest_mm,
        "skin_mm": arguments.skin_mm, "offset_mm": built.offset_mm, "fill_mm3": built.fill_mm3,
        "still_proud": len(built.proud_mm), "not_judged_mm2": built.not_judged_mm2,
        "material": material.name, "finished_mass_g": mass_g, "warnings": [MOVES, *warnings],
    }
    paths = write_mesh(arguments.out, built.surface, figures, "build-over", trust=target.trust)
    progress(1.0, "Done")
    line = (f"Moved out by {built.offset_mm:.2f} mm (highest metal {built.highest_mm:.2f} mm): "
            f"{built.fill_mm3 / 1000:.1f} cm3, {mass_g:.0f} g of {material.title}")
    return told([f"! {MOVES}", line], warnings, paths)
