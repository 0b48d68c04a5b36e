"""The plan before, whose lows tell laid work from bare metal: the argument, and where it is found unasked."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path

from ..depth.laid import KnownLow, known_lows
from ..errors import InputError


def add_before(parser: ArgumentParser) -> None:
    """The folder of the plan before, as an argument."""
    parser.add_argument("--before", metavar="DIR", type=Path,
                        help="folder of a plan of this job from before anything was laid: highs over its lows are "
                             "asked about (the plan that DIR of --out holds, where it is for the same finished shape)")


def lows_before(stated: Path | None, out: Path, target_sha256: str, target_unit: str) -> tuple[KnownLow, ...]:
    """The lows of the plan in the folder ``stated``, or of the one about to be overwritten in ``out`` where it is for
    the same finished shape; none where there is no such plan. Raises InputError where the stated one is no plan."""
    if stated is None:
        try:
            record = json.loads((out / "plan.json").read_text(encoding="utf-8"))
            same = (record["target"]["sha256"], record["target"]["unit"]) == (target_sha256, target_unit)
            return known_lows(record) if same else ()
        except (OSError, ValueError, KeyError, TypeError, InputError):
            return ()  # not asked for, so nothing to complain of
    path = stated / "plan.json"
    try:
        return known_lows(json.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        raise InputError(f"--before {stated}: there is no plan.json that can be read ({error.strerror}); give the "
                         "folder that a plan was written to") from error
    except ValueError as error:
        raise InputError(f"--before {stated}: its plan.json is damaged ({error}); leave it out, or plan again"
                         ) from error
