"""The command line: ``python -m core COMMAND``."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, RawDescriptionHelpFormatter
from collections.abc import Sequence

from . import command_plan
from .errors import FillwrightError, NoOverlapError
from .progress import Progress, silent

DONE, WRONG, NO_OVERLAP, STOPPED = 0, 2, 3, 130
_COMMANDS = {"plan": command_plan}
_BAR = 30


def main(words: Sequence[str] | None = None) -> int:
    """Run one command; the exit status: 0 done, 2 wrong use or bad input, 3 no overlap, 130 stopped."""
    arguments = _parser().parse_args(words)
    progress = silent if arguments.quiet else _bar()
    try:
        text = _COMMANDS[arguments.command].run(arguments, progress)
    except FillwrightError as error:
        _end_bar(arguments.quiet)
        sys.stderr.write(f"fillwright: {error}\n")
        return NO_OVERLAP if isinstance(error, NoOverlapError) else WRONG
    except KeyboardInterrupt:
        _end_bar(arguments.quiet)
        sys.stderr.write("fillwright: stopped; nothing was written\n")
        return STOPPED
    _end_bar(arguments.quiet)
    if not arguments.quiet:
        sys.stdout.write(text + "\n")
    return DONE


def _parser() -> ArgumentParser:
    parser = ArgumentParser(prog="python -m core", description="Fillwright: plan the fill of a car body panel.")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, command in _COMMANDS.items():
        described = command.DESCRIPTION
        one = commands.add_parser(
            name, help=described.splitlines()[0], description=described, formatter_class=RawDescriptionHelpFormatter
        )
        command.add_arguments(one)
    return parser


def _bar() -> Progress:
    """A progress bar on the error stream, where it is out of the way of what the command prints."""

    def show(share: float, step: str) -> None:
        done = round(_BAR * share)
        sys.stderr.write(f"\r[{'#' * done}{'.' * (_BAR - done)}] {share:4.0%} {step:<34}")
        sys.stderr.flush()

    return show


def _end_bar(quiet: bool) -> None:
    if not quiet:
        sys.stderr.write("\n")


if __name__ == "__main__":
    sys.exit(main())
