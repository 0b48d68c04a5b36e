"""The command line: ``python -m core COMMAND``."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, Namespace, RawDescriptionHelpFormatter
from collections.abc import Mapping, Sequence
from typing import NoReturn, Protocol

from .commands import (
    as_was,
    build_over,
    carry_through,
    find_damage,
    good_side,
    line_up,
    metal_level,
    plan,
    scanner_error,
    weigh_up,
)
from .errors import FillwrightError, InputError, NoOverlapError, WrongValue
from .progress import Progress, silent

DONE, WRONG, NO_OVERLAP, STOPPED = 0, 2, 3, 130
PROGRAM = "python -m core"
_BAR = 30


class Command(Protocol):
    """What a command is made of; a module with these names is one."""

    @property
    def DESCRIPTION(self) -> str: ...  # noqa: N802

    def add_arguments(self, parser: ArgumentParser) -> None: ...

    def run(self, arguments: Namespace, progress: Progress) -> str: ...


COMMANDS: dict[str, Command] = {
    "plan": plan,
    "line-up": line_up,
    "good-side": good_side,
    "find-damage": find_damage,
    "carry-through": carry_through,
    "as-was": as_was,
    "metal-level": metal_level,
    "build-over": build_over,
    "weigh-up": weigh_up,
    "test-scanner": scanner_error,
}


def main(
    words: Sequence[str] | None = None, commands: Mapping[str, Command] = COMMANDS, program: str = PROGRAM
) -> int:
    """Run one command; the exit status: 0 done, 2 wrong use or bad input, 3 no overlap, 130 stopped."""
    try:
        arguments = _parser(commands, program).parse_args(words)
    except InputError as error:
        sys.stderr.write(f"fillwright: {error}\n")
        return WRONG
    progress = silent if arguments.quiet else _bar()
    try:
        text = commands[arguments.command].run(arguments, progress)
    except FillwrightError as error:
        _end_bar(arguments.quiet)
        option = f"--{error.name.replace('_', '-')}: " if isinstance(error, WrongValue) else ""
        sys.stderr.write(f"fillwright: {option}{error}\n")
        return NO_OVERLAP if isinstance(error, NoOverlapError) else WRONG
    except KeyboardInterrupt:
        _end_bar(arguments.quiet)
        sys.stderr.write("fillwright: stopped; nothing was written\n")
        return STOPPED
    _end_bar(arguments.quiet)
    if not arguments.quiet:
        _print(text)
    return DONE


def _print(text: str) -> None:
    """Print, with ? for what an older terminal has no letter for (a file name of another alphabet)."""
    encoding = sys.stdout.encoding or "utf-8"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding) + "\n")


class _Parser(ArgumentParser):
    """Wrong use in one sentence, like everything else that can be wrong."""

    def error(self, message: str) -> NoReturn:
        raise InputError(f"{message}; see {self.prog} --help")


def _parser(commands: Mapping[str, Command] = COMMANDS, program: str = PROGRAM) -> ArgumentParser:
    about = "Fillwright: plan the fill of a car body panel."
    parser = _Parser(prog=program, description=about, allow_abbrev=False)
    known = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, command in commands.items():
        described = command.DESCRIPTION
        one = known.add_parser(
            name, help=described.splitlines()[0], description=described, allow_abbrev=False,
            formatter_class=RawDescriptionHelpFormatter,
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
