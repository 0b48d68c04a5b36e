"""The command ``test-scanner``."""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from pathlib import Path

from ..errors import InputError
from ..files.atomic_write import atomic_write
from ..jobs import scanner_error as job
from ..progress import Progress, report_progress, within
from .landmarks import add_landmarks, read_pairs
from .meshes import add_mesh, add_quiet, read_part, told

DESCRIPTION = """\
Test the Scanner: two scans of one panel, lined up and compared, give its error.

Scan the same panel twice, from the start, without touching it in between. The scanner's error and how far it agrees
with itself are written as a settings file for plan --settings."""


def add_arguments(parser: ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_mesh(parser, "a", "first scan")
    add_mesh(parser, "b", "second scan of the same panel")
    add_landmarks(parser)
    parser.add_argument("--out", metavar="FILE.toml", type=Path, required=True, help="settings file to write")
    add_quiet(parser)


def run(arguments: Namespace, progress: Progress) -> str:
    """Compare the scans and write the scanner's error."""
    if arguments.out.suffix.lower() != ".toml":
        raise InputError(f"--out {arguments.out}: a name that ends in .toml is wanted")
    report_progress(progress, 0.0, "Reading the scans")
    a, b = read_part(arguments.a, arguments.a_unit, "a"), read_part(arguments.b, arguments.b_unit, "b")
    request = job.Request(a.part, b.part, read_pairs(arguments.landmarks, a.mm_per_unit, b.mm_per_unit))
    found = job.run(request, within(progress, 0.1, 0.9))
    error, length, lines = (found.record[name] for name in ("scan_error_mm", "scan_error_length_mm", "settings"))
    paths = atomic_write(arguments.out.parent, {
        arguments.out.name: f"# Scanner's error, from {a.file} against {b.file}\n{lines}",
    })
    progress(1.0, "Done")
    over = f"agreeing with itself over {length:.0f} mm" if length else "white, from point to point"
    return told([f"Scanner's error {error:.3f} mm, {over}"], found.warnings, paths)
