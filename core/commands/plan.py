"""The command ``plan``: from two mesh files to a folder of results."""

from __future__ import annotations

import json
from argparse import ArgumentParser, ArgumentTypeError, Namespace
from dataclasses import dataclass
from pathlib import Path

from ..bench.materials import load, pick
from ..paper.cut import legend_cut
from ..paper.drawing import svg
from ..paper.legend import legend
from ..paper.plan_meshes import fill_stl, panel_map_ply
from ..paper.plan_record import Source, areas_csv, plan_record
from ..paper.summary import summary
from ..paper.whole import write_whole
from ..plan import Lining, Plan, make_plan
from ..progress import Progress, tell
from ..settings import Settings, read_settings
from ..surface.reading import Reading, read
from ..surface.units import MM_PER_UNIT
from ..surface.work_area import read_work_area
from .landmarks import add_landmarks, landmarks_of
from .locating import add_locating, locating_of

DESCRIPTION = """\
How much to fill, where, how much stands proud, and how thick to overbuild.

PANEL is the scan of the bare, damaged panel. TARGET is the finished shape: the
surface that the panel should have. Both are mesh files: STL, PLY, OBJ, GLB or
GLTF. The scan must lie where the finished shape lies, or say --line-up.

Where the panel lies below the finished shape it is low and is filled. Where it
lies above it is high: tap it down or shrink it first, never file it off."""

EPILOG = """\
Lengths are in mm, whatever unit the files are in. A number in brackets is what
is taken if you say nothing. Those are common practice: put in what you know of
your own hand and your own scanner.

Written into DIR, all of it or nothing:
  plan.json      every figure
  areas.csv      one line for each low and high, for a spreadsheet
  panel-map.ply  the panel coloured by depth, for any mesh program
  fill.stl       the fill as closed pieces, one for each low, finished size
  legend.svg     what the colours mean

Exit status: 0 done, 2 wrong use or a file that can't be used, 3 panel and
finished shape don't lie on one another, 130 stopped.

Example, a scan in mm and a finished shape in inches:
  python -m core plan door-scan.ply door-shape.stl --panel-unit mm
      --target-unit in --out door-plan"""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.epilog = EPILOG
    units = ", ".join(MM_PER_UNIT)
    add = parser.add_argument
    add("panel", metavar="PANEL", type=_path, help="scan of the panel")
    add("target", metavar="TARGET", type=_path, help="finished shape")
    add("--out", metavar="DIR", type=_path, required=True, help="folder for the results; made if it is not there")
    add("--panel-unit", metavar="U", help=f"unit that the panel's file is in: {units}; always say it if you know it")
    add("--target-unit", metavar="U", help=f"unit that the finished shape's file is in: {units}")
    add("--work-area", metavar="FILE", type=_path,
        help="plan only part of the panel: a PLY copy of the scan whose points are marked 1 or 0 in a property "
             "work_area, or a text file of the numbers of the points, counted from 0")
    materials = ", ".join(load())
    add("--material", metavar="NAME", help=f"what to fill with: {materials}, or one of your own from --materials")
    add("--materials", metavar="FILE", type=_path, help="your own materials and prices (TOML)")
    add("--settings", metavar="FILE", type=_path,
        help="your usual settings (TOML), one a line: lay_sigma_mm = 0.4; what you give here beats the file")
    add("--line-up", action="store_true", help="bring the scan onto the finished shape first, by its sound metal")
    add_landmarks(parser)
    add_locating(parser)
    add("--aside", metavar="FILE", type=_path,
        help="parts of the panel that take no part in lining up (handle, glass, moulding), marked as a work area is")
    for name, (metavar, text) in _SETTINGS.items():
        add("--" + name.replace("_", "-"), metavar=metavar, type=float, help=text)
    add("--quiet", action="store_true", help="print nothing unless something is wrong")


def _path(text: str) -> Path:
    if not text:
        raise ArgumentTypeError("a name is wanted")
    return Path(text)


_SETTINGS = {
    "finish_mm": ("MM", "thickness of primer and paint on the finished shape, if it was scanned painted: it is set in "
                        "by as much, for the panel is bare (0)"),
    "true_mm": ("MM", "how far off the finished shape still counts as right (0.25)"),
    "risk": ("R", "chance that you accept, in each low, of a low spot left after filing: 0.05 is 1 in 20 (0.05)"),
    "lay_sigma_mm": ("MM", "how unevenly you lay: two thirds of what you lay is this close to what you meant (0.3)"),
    "bump_spacing_mm": ("MM", "how wide your unevenness is: from one bump of what you laid to the next (75)"),
    "lay_correlation_mm": ("MM", "the same as a correlation length, the spacing of bumps divided by 2 pi (12)"),
    "surfacer_mm": ("MM", "lows shallower than this are left to surfacer (0.10)"),
    "reach_mm": ("MM", "how far from the finished shape metal is measured; farther off it is not measured (20)"),
    "line_up_uncertainty_mm": ("MM", "how closely the scan lies on the shape: two times in three it is better (0.05)"),
    "scan_error_mm": ("MM", "your scanner's error at a point, if you know it; else it is measured on sound metal"),
    "scan_error_length_mm": ("MM", "how far apart two points are before that error differs; goes with the one above"),
}


@dataclass(frozen=True)
class Made:
    """A plan made, and where its two meshes came from."""

    plan: Plan
    panel: Source
    target: Source


def run(arguments: Namespace, progress: Progress) -> str:
    """Make the plan and write it; the summary to print."""
    made = make(arguments, progress)
    tell(progress, 0.9, "Writing the results")
    paths = write_whole(arguments.out, contents(made.plan, made.panel, made.target))
    progress(1.0, "Done")  # what is written can't be stopped any more
    return summary(made.plan, made.panel, made.target, paths)


def make(arguments: Namespace, progress: Progress) -> Made:
    """The plan that the arguments ask for; nothing is written."""
    settings = _settings(arguments)
    material = pick(settings.material, arguments.materials)
    tell(progress, 0.0, "Reading the panel")
    panel = read(arguments.panel, arguments.panel_unit, "panel")
    tell(progress, 0.05, "Reading the finished shape")
    target = read(arguments.target, arguments.target_unit, "target")
    work_area = None if arguments.work_area is None else read_work_area(arguments.work_area, panel)
    plan = make_plan(
        panel.surface, target.surface, settings, material, work_area,
        lambda share, step: progress(0.1 + 0.75 * share, step), _lining(arguments, panel, target),
    )
    return Made(plan, _source(arguments.panel, panel), _source(arguments.target, target))


def _lining(arguments: Namespace, panel: Reading, target: Reading) -> Lining | None:
    locating = locating_of(arguments)
    if not (arguments.line_up or arguments.landmarks or arguments.locate or arguments.aside):
        return None
    aside = None if arguments.aside is None else read_work_area(arguments.aside, panel, "--aside")
    return Lining(landmarks_of(arguments.landmarks, panel.unit, target.unit), locating, aside)


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
