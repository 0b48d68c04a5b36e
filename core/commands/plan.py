"""The command ``plan``: from two mesh files to a folder of results."""

from __future__ import annotations

import json
from argparse import ArgumentParser, Namespace

from ..files.atomic_write import atomic_write
from ..files.units import MM_PER_UNIT
from ..jobs import plan as job
from ..jobs.plan_result import PlanResult
from ..legend.drawing import svg
from ..legend.legend import legend
from ..legend.legend_section import legend_section
from ..map.plan_meshes import fill_stl, panel_map_ply
from ..progress import Progress, report_progress, within
from ..report.plan_record import areas_csv
from ..report.summary import summary
from .before import add_before, record_before
from .meshes import read_part
from .planning import add_planning, path, planning_of, settings_asked

DESCRIPTION = """\
How much to fill, where, how much stands proud, and how thick to overbuild.

PANEL is the scan of the bare, damaged panel. TARGET is the finished shape: the
surface that the panel should have. Both are mesh files: STL, PLY, OBJ, GLB or
GLTF. The scan must lie where the finished shape lies, or say --line-up.

Where the panel lies below the finished shape it is low and is filled. Where it
lies above it is high: bare metal is tapped down or shrunk first and never filed
off, what was laid (--surface laid) is filed and never hammered."""

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
    add("panel", metavar="PANEL", type=path, help="scan of the panel")
    add("target", metavar="TARGET", type=path, help="finished shape")
    add("--out", metavar="DIR", type=path, required=True, help="folder for the results; made if it is not there")
    add("--panel-unit", metavar="U", help=f"unit that the panel's file is in: {units}; always say it if you know it")
    add("--target-unit", metavar="U", help=f"unit that the finished shape's file is in: {units}")
    add_before(parser)
    add_planning(parser)
    add("--quiet", action="store_true", help="print nothing unless something is wrong")


def run(arguments: Namespace, progress: Progress) -> str:
    """Make the plan and write it; the summary to print."""
    request, found = make(arguments, progress)
    report_progress(progress, 0.9, "Writing the results")
    assert found.plan is not None
    paths = atomic_write(arguments.out, contents(found))
    progress(1.0, "Done")  # what is written can't be stopped any more
    return summary(found.plan, request.panel.source, request.target.source, paths)


def make(arguments: Namespace, progress: Progress) -> tuple[job.Request, PlanResult]:
    """The plan that the arguments ask for; nothing is written."""
    settings = settings_asked(arguments)
    report_progress(progress, 0.0, "Reading the panel")
    panel = read_part(arguments.panel, arguments.panel_unit, "panel")
    report_progress(progress, 0.05, "Reading the finished shape")
    target = read_part(arguments.target, arguments.target_unit, "target", lined_up=True)
    asked = planning_of(arguments, settings, panel, target.mm_per_unit)
    before = record_before(arguments.before, arguments.out, target.part.source)
    request = job.Request(panel.part, target.part, before=before, **asked.as_fields())
    return request, job.run(request, within(progress, 0.1, 0.85))


def contents(found: PlanResult) -> dict[str, bytes | str]:
    """What each of the command's files holds."""
    made = found.plan
    assert made is not None
    key = legend(made.settings.true_mm, made.material.greatest_depth_mm)
    return {
        "plan.json": json.dumps(found.record, indent=1, allow_nan=False) + "\n",
        "panel-map.ply": panel_map_ply(made, key),
        "fill.stl": fill_stl(made),
        "areas.csv": areas_csv(made),
        "legend.svg": svg(legend_section(key, 640.0, 360.0, made.lay_up)),
    }
