"""Run as a script: ``python command.py FOLDER PATH ... -- WORDS ...`` is the command line, for Blender.

PATH ... are the places of core and of its libraries; WORDS what stands after ``blender --command fillwright``. The
command's files are left in FOLDER/results instead of where they belong, so that Blender can add its own and write
all of them whole; beside them what Blender draws from: the job's answer, but for the mended panel's vertices, and
"wanted": ``out``, where the files belong, ``quiet``, and the meshes (``panel_vertices``, ``panel_triangles``,
``target_...``, in mm; ``work_area`` where there is one). Exit status as `__main__` has it; 0 without wanted.json is
--help.
"""

import sys
from argparse import ArgumentParser, Namespace
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from core.jobs.plan_result import PlanResult
    from core.planning.plan import Plan
    from core.progress import Progress

PROGRAM = "blender --command fillwright"
MORE = "\n\nBeside the results also map.blend, the plan ready to open, and pictures of the map, map.png and others."


@dataclass(frozen=True)
class PlanForBlender:
    """The command ``plan``, whose files go to a folder that Blender takes them from."""

    folder: Path

    @property
    def DESCRIPTION(self) -> str:  # noqa: N802
        from core.commands.plan import DESCRIPTION

        return DESCRIPTION + MORE

    def add_arguments(self, parser: ArgumentParser) -> None:
        from core.commands.plan import add_arguments

        add_arguments(parser)

    def run(self, arguments: Namespace, progress: "Progress") -> str:

        from core.commands.plan import contents, make
        from core.files.atomic_write import atomic_write
        from core.jobs.folder import leave
        from core.jobs.part import Answer
        from core.progress import report_progress
        from core.report.summary import summary

        request, found = make(arguments, progress)
        plan = found.plan
        assert plan is not None
        files = contents(found)
        report_progress(progress, 0.9, "Handing over to Blender")
        atomic_write(self.folder / "results", files)
        leave(self.folder, "answer", _by_mended_vertex(found).answer())
        leave(self.folder, "wanted", Answer({"out": str(arguments.out.absolute()), "quiet": arguments.quiet},
                                            _meshes(plan)))
        report_progress(progress, 1.0, "Done; Blender draws the map")
        return summary(plan, request.panel.source, request.target.source, [arguments.out / name for name in files])


def _by_mended_vertex(found: "PlanResult") -> "PlanResult":
    """The plan as if the mended panel had come: an STL file's own vertices are three a triangle."""
    import numpy as np

    plan = found.plan
    assert plan is not None
    surface = plan.panel.surface
    rows = np.arange(len(surface.vertices))
    panel = replace(plan.panel, surface=replace(surface, row_of_input=rows))
    return replace(found, plan=replace(plan, panel=panel))


def _meshes(plan: "Plan") -> dict[str, Any]:
    panel, target = plan.panel.surface, plan.target.surface
    found: dict[str, Any] = {
        "panel_vertices": panel.vertices + panel.origin, "panel_triangles": panel.triangles,
        "target_vertices": target.vertices + target.origin, "target_triangles": target.triangles,
    }
    if not plan.survey.planned.all():
        found["work_area"] = plan.survey.planned
    return found


def main(folder: Path, words: list[str]) -> int:
    """Run the command of ``words``; the exit status."""
    from core.__main__ import COMMANDS
    from core.__main__ import main as command_line

    return command_line(words, {**COMMANDS, "plan": lambda: PlanForBlender(folder)}, PROGRAM)


if __name__ == "__main__":
    places, asked = sys.argv[2 : sys.argv.index("--")], sys.argv[sys.argv.index("--") + 1 :]
    sys.path[:0] = places
    sys.exit(main(Path(sys.argv[1]), asked))
