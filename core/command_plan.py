"""The command ``plan``: from two mesh files to a folder of results."""

from __future__ import annotations

import json
from argparse import ArgumentParser, Namespace
from pathlib import Path

from .bench.materials import load, pick
from .paper.cut import legend_cut
from .paper.drawing import svg
from .paper.legend import legend
from .paper.plan_meshes import fill_stl, panel_map_ply
from .paper.plan_record import Source, areas_csv, plan_record
from .paper.summary import summary
from .paper.whole import write_whole
from .plan import Plan, make_plan
from .progress import Progress, tell
from .settings import Settings, read_settings
from .surface.reading import Reading, read
from .surface.units import MM_PER_UNIT
from .surface.work_area import read_work_area

DESCRIPTION = """\
How much to fill, where, how much stands proud, and how thick to overbuild.

PANEL is the scan of the stripped, damaged panel; TARGET is the finished shape, the surface that it should have.
Both are mesh files (STL, PLY, OBJ, GLB or GLTF) in one frame: the scan must already lie where the finished shape lies.
A place below the finished shape is low and is filled; one above it is high, and is tapped down or shrunk first."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    units = ", ".join(MM_PER_UNIT)
    add = parser.add_argument
    add("panel", metavar="PANEL", type=Path, help="scan of the panel")
    add("target", metavar="TARGET", type=Path, help="finished shape")
    add("--out", metavar="DIR", type=Path, required=True, help="folder for the results; made if it is not there")
    add("--panel-unit", metavar="U", help=f"unit of the panel's file: {units}")
    add("--target-unit", metavar="U", help=f"unit of the finished shape's file: {units}")
    add("--work-area", metavar="FILE", type=Path,
        help="plan only this part: a text file of the panel's vertex numbers, or a PLY with a property work_area")
    materials = ", ".join(load())
    add("--material", metavar="NAME", help=f"what to fill with: {materials}, or one from --materials")
    add("--materials", metavar="FILE", type=Path, help="your own materials (TOML)")
    add("--settings", metavar="FILE", type=Path, help="settings from a TOML file; what is given here goes first")
    for name, (metavar, text) in _SETTINGS.items():
        add("--" + name.replace("_", "-"), metavar=metavar, type=float, help=text)
    add("--quiet", action="store_true", help="no progress and no summary")


_SETTINGS = {
    "finish_mm": ("MM", "paint that the finished shape carries, where it was scanned painted (0); the panel is bare"),
    "true_mm": ("MM", "how far from the shape still counts as right (0.25)"),
    "risk": ("R", "chance you accept of a low spot left in an area after filing (0.05)"),
    "lay_sigma_mm": ("MM", "how unevenly you lay: the spread of the laid surface about what you meant (0.3)"),
    "lay_correlation_mm": ("MM", "how wide your unevenness is, about a paddle's or spreader's stroke (12)"),
    "surfacer_mm": ("MM", "lows shallower than this are left to surfacer (0.10)"),
    "reach_mm": ("MM", "deepest that the tool looks; beyond it metal is not judged (20)"),
    "line_up_uncertainty_mm": ("MM", "how well the scan lies on the shape, one standard deviation (0.05)"),
    "scan_error_mm": ("MM", "your scanner's error (else measured on the panel's sound metal)"),
    "scan_error_length_mm": ("MM", "how far the scanner's error agrees with itself (10)"),
}


def run(arguments: Namespace, progress: Progress) -> str:
    """Make the plan and write it; the summary to print."""
    settings = _settings(arguments)
    material = pick(settings.material, arguments.materials)
    tell(progress, 0.0, "Reading the panel")
    panel = read(arguments.panel, arguments.panel_unit, "panel")
    tell(progress, 0.05, "Reading the finished shape")
    target = read(arguments.target, arguments.target_unit, "target")
    work_area = None if arguments.work_area is None else read_work_area(arguments.work_area, panel)
    plan = make_plan(
        panel.surface, target.surface, settings, material, work_area,
        lambda share, step: progress(0.1 + 0.75 * share, step),
    )
    tell(progress, 0.9, "Writing the results")
    sources = _source(arguments.panel, panel), _source(arguments.target, target)
    paths = write_whole(arguments.out, contents(plan, *sources))
    tell(progress, 1.0, "Done")
    return summary(plan, *sources, paths)


def contents(plan: Plan, panel: Source, target: Source) -> dict[str, bytes | str]:
    """What each of the command's files holds."""
    key = legend(plan.settings.true_mm, plan.material.greatest_depth_mm)
    record = json.dumps(plan_record(plan, panel, target), indent=1, allow_nan=False)
    return {
        "plan.json": record + "\n",
        "panel-map.ply": panel_map_ply(plan, key),
        "fill.stl": fill_stl(plan),
        "areas.csv": areas_csv(plan),
        "legend.svg": svg(legend_cut(key, 640.0, 360.0, plan.material.pass_mm)),
    }


def _settings(arguments: Namespace) -> Settings:
    stated = {name: getattr(arguments, name) for name in (*_SETTINGS, "material")}
    from_file = {} if arguments.settings is None else read_settings(arguments.settings)
    return Settings().changed(from_file).changed(stated)


def _source(path: Path, reading: Reading) -> Source:
    return Source(path.name, reading.sha256, reading.unit, reading.unit_note)
