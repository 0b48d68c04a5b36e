"""What a plan goes by, as arguments: of every command that makes one."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError, Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..bench.materials import load, pick
from ..errors import InputError
from ..files.mesh_file import MeshFile
from ..jobs.part import LiningUp
from ..report.line_up_record import placing_of
from ..report.made_shape import LINED_UP, belongs, report_beside
from ..settings import SURFACES, Settings, read_settings
from ..surface.surface import Mask
from .landmarks import add_landmarks, read_pairs
from .locating import add_locating, locating_of
from .meshes import MeshPart

_SETTINGS = {
    "finish_mm": ("MM", "thickness of primer and paint on the finished shape, if it was scanned painted: it is set in "
                        "by as much, for the panel is bare (0)"),
    "true_mm": ("MM", "how far off the finished shape still counts as right (0.25)"),
    "risk": ("R", "chance that you accept, in each low, of a low spot left after filing: 0.05 is 1 in 20 (0.05)"),
    "lay_sigma_mm": ("MM", "how unevenly you lay: two thirds of what you lay is this close to what you meant (0.3)"),
    "bump_spacing_mm": ("MM", "how wide your unevenness is: from one bump of what you laid to the next (75)"),
    "lay_correlation_mm": ("MM", "the same as a correlation length, the spacing of bumps divided by 2 pi (12)"),
    "surfacer_mm": ("MM", "lows shallower than this are left to surfacer (0.10)"),
    "reserve_share": ("R", "how much more to buy than you need, so that nobody goes back for it (0.25, a quarter)"),
    "reach_mm": ("MM", "how far from the finished shape metal is measured; farther off it is not measured (20)"),
    "line_up_uncertainty_mm": ("MM", "how closely the scan lies on the shape: two times in three it is better (0.05)"),
    "scan_error_mm": ("MM", "your scanner's error at a point, if you know it; else it is measured on sound metal"),
    "scan_error_length_mm": ("MM", "how far apart two points are before that error differs; goes with the one above"),
}


def add_planning(parser: ArgumentParser) -> None:
    """Work area, material, settings and line-up as arguments."""
    add = parser.add_argument
    add("--work-area", metavar="FILE", type=path,
        help="plan only part of the panel: a PLY copy of the scan whose points are marked 1 or 0 in a property "
             "work_area, or a text file of the numbers of the points, counted from 0")
    add("--surface", metavar="S", choices=SURFACES,
        help="what PANEL was when it was scanned: bare, laid (solder or filler on it) or primed (bare)")
    materials = ", ".join(load())
    add("--material", metavar="NAME", help=f"what to fill with: {materials}, or one of your own from --materials")
    add("--materials", metavar="FILE", type=path, help="your own materials and prices (TOML)")
    add("--settings", metavar="FILE", type=path,
        help="your usual settings (TOML), one a line: lay_sigma_mm = 0.4; what you give here beats the file")
    add("--line-up", action="store_true", help="bring the scan onto the finished shape first, by its sound metal")
    add_landmarks(parser)
    add_locating(parser)
    add("--aside", metavar="FILE", type=path,
        help="parts of the panel that take no part in lining up (handle, glass, moulding), marked as a work area is")
    for name, (metavar, text) in _SETTINGS.items():
        add("--" + name.replace("_", "-"), metavar=metavar, type=float, help=text)


def path(text: str) -> Path:
    """A file's name as an argument; an empty one is refused."""
    if not text:
        raise ArgumentTypeError("a name is wanted")
    return Path(text)


@dataclass(frozen=True, eq=False)
class Planning:
    """What the arguments say of one panel, under the names that the requests of jobs have for it."""

    settings: Settings
    materials: str | None
    work_area: Mask | None = None
    lining_up: LiningUp | None = None
    placing: dict[str, Any] | None = None
    notes: tuple[str, ...] = ()

    def as_fields(self) -> dict[str, Any]:
        """By name, for a request."""
        return dict(self.__dict__)


def settings_asked(arguments: Namespace) -> Settings:
    """The settings that the arguments and the user's file say; that there is the material is looked at, too."""
    stated = {name: getattr(arguments, name) for name in (*_SETTINGS, "material", "surface")}
    from_file = {} if arguments.settings is None else read_settings(arguments.settings)
    settings = Settings().changed(from_file).changed(stated)
    pick(settings.material, arguments.materials)
    return settings


def planning_of(arguments: Namespace, settings: Settings, panel: MeshPart, target_mm: float) -> Planning:
    """What the arguments and the panel's own file say; ``target_mm``: millimetres in the unit of the shape's file."""
    materials = None if arguments.materials is None else str(arguments.materials)
    area, locating = panel.marked(arguments.work_area, "work area"), locating_of(arguments)
    if arguments.line_up or arguments.landmarks or arguments.locate or arguments.aside:
        pairs = read_pairs(arguments.landmarks, panel.mm_per_unit, target_mm)
        return Planning(settings, materials, area, LiningUp(pairs, locating, panel.marked(arguments.aside, "--aside")))
    if arguments.line_up_uncertainty_mm is not None:
        return Planning(settings, materials, area)
    placing, notes = _placed_before(arguments.panel, panel.reading)
    return Planning(settings, materials, area, None, placing, notes)


def _placed_before(path: Path, panel: MeshFile) -> tuple[dict[str, Any] | None, tuple[str, ...]]:
    """How well the panel at ``path`` is placed, where it was lined up before; and what to mind if nothing tells it."""
    report = report_beside(path)
    lined_up = report is not None and report["format"] == "fillwright.line-up"
    if lined_up and report is not None and belongs(report, panel) and "placing" in report:
        try:
            placing_of(report["placing"])
            return report["placing"], ()
        except (InputError, KeyError, TypeError, ValueError):
            pass  # as if it were not there
    if not lined_up and LINED_UP not in panel.properties:
        return None, ()
    why = "is of another file" if lined_up and report is not None and not belongs(report, panel) else "doesn't tell it"
    return None, (
        f"{path.name} was lined up before, but how well is not known, for {path.with_suffix('.json').name} beside it "
        f"{why}: --line-up-uncertainty-mm is taken; state it, or plan with --line-up",)
