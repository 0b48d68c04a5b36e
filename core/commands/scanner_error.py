"""The command ``test-scanner``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..errors import InputError
from ..files.atomic_write import write_whole
from ..place.fit import Start, Target
from ..place.motion import STILL
from ..place.onto import onto
from ..place.scanner_error import trust
from ..progress import Progress, tell
from ..surface.nearest import Tree
from .landmarks import add_landmarks, landmarks_of
from .meshes import add_mesh, ready, told

DESCRIPTION = """\
Test the Scanner: two scans of one panel, lined up and compared, give its error.

Scan the same panel twice, from the start, without touching it in between. The scanner's error and how far it agrees
with itself are written as a settings file for plan --settings."""


_LEAST_MM = 1e-4  # no scanner errs by less


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "a", "first scan")
    add_mesh(parser, "b", "second scan of the same panel")
    add_landmarks(parser)
    parser.add_argument("--out", metavar="FILE.toml", type=Path, required=True, help="settings file to write")
    parser.add_argument("--quiet", action="store_true", help="no progress and no summary")


def run(arguments: Namespace, progress: Progress) -> str:
    """Compare the scans and write the scanner's error."""
    if arguments.out.suffix.lower() != ".toml":
        raise InputError(f"--out {arguments.out}: a name that ends in .toml is wanted")
    tell(progress, 0.0, "Reading the scans")
    one, other = ready(arguments.a, arguments.a_unit, "a"), ready(arguments.b, arguments.b_unit, "b")
    landmarks = landmarks_of(arguments.landmarks, one.reading.unit, other.reading.unit)
    tree = Tree(other.surface)
    placed = onto(one.surface, other.surface, tree, landmarks, progress=lambda s, step: progress(0.1 + 0.5 * s, step))
    found = trust(
        placed.panel, Target(other.surface, tree, 20.0), Start(STILL), lambda s, step: progress(0.6 + 0.3 * s, step)
    )
    if found.error_mm < _LEAST_MM:
        raise InputError("test-scanner: the two scans are the same, point for point; scan the panel twice, from "
                         "the start")
    warnings = tuple(dict.fromkeys((*placed.warnings, *found.fit.warnings)))
    paths = write_whole(arguments.out.parent, {
        arguments.out.name: f"# Scanner's error, from {one.file} against {other.file}\n{found.settings()}",
    })
    progress(1.0, "Done")
    over = f"agreeing with itself over {found.length_mm:.0f} mm" if found.length_mm else "white, from point to point"
    return told([f"Scanner's error {found.error_mm:.3f} mm, {over}"], warnings, paths)
