"""The command line: ``python -m core COMMAND``."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, Namespace, RawDescriptionHelpFormatter
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from importlib import import_module
from typing import NoReturn, Protocol, cast

from .errors import FillwrightError, InputError, NoOverlapError, WrongValue
from .progress import Progress, silent
from .threads import one_for_matrices

DONE, WRONG, NO_OVERLAP, STOPPED = 0, 2, 3, 130
PROGRAM = "python -m core"
_BAR = 30


class Command(Protocol):
    """What a command is made of; a module with these names is one."""

    @property
    def DESCRIPTION(self) -> str: ...  # noqa: N802

    def add_arguments(self, parser: ArgumentParser) -> None: ...

    def run(self, arguments: Namespace, progress: Progress) -> str: ...


Commands = Mapping[str, Callable[[], Command]]


def _module(name: str) -> Callable[[], Command]:
    """The file of a command, loaded when it is asked for: most of them load a good part of scipy."""
    return partial(cast("Callable[[str], Command]", import_module), f"{__package__}.commands.{name}")


COMMANDS: Commands = {
    "plan": _module("plan"),
    "line-up": _module("line_up"),
    "good-side": _module("good_side"),
    "find-damage": _module("find_damage"),
    "carry-through": _module("carry_through"),
    "as-was": _module("as_was"),
    "metal-level": _module("metal_level"),
    "build-over": _module("build_over"),
    "weigh-up": _module("weigh_up"),
    "test-scanner": _module("scanner_error"),
}


def main(
    words: Sequence[str] | None = None, commands: Commands = COMMANDS, program: str = PROGRAM
) -> int:
    """Run one command; the exit status: 0 done, 2 wrong use or bad input, 3 no overlap, 130 stopped."""
    one_for_matrices()
    words = sys.argv[1:] if words is None else words
    try:
        arguments = _parser(commands, program, words[:1]).parse_args(words)
    except InputError as error:
        sys.stderr.write(f"fillwright: {error}\n")
        return WRONG
    progress = silent if arguments.quiet else _bar()
    try:
        text = commands[arguments.command]().run(arguments, progress)
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


def _parser(commands: Commands, program: str, asked: Sequence[str]) -> ArgumentParser:
    """The parser of the command that is ``asked`` for; of all of them where it is none."""
    about = "Fillwright: plan the fill of a car body panel."
    parser = _Parser(prog=program, description=about, allow_abbrev=False)
    known = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name in [name for name in asked if name in commands] or commands:
        command = commands[name]()
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
