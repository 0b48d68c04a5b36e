"""The plan before, whose lows tell laid work from bare metal: the argument, and where it is found unasked."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from ..depth.laid import known_lows
from ..errors import InputError
from ..files.source import Source


def add_before(parser: ArgumentParser) -> None:
    """The folder of the plan before, as an argument."""
    parser.add_argument("--before", metavar="DIR", type=Path,
                        help="folder of a plan of this job from before anything was laid: highs over its lows are "
                             "asked about (the plan that DIR of --out holds, where it is for the same finished shape)")


def record_before(stated: Path | None, out: Path, target: Source) -> dict[str, Any] | None:
    """The plan in the folder ``stated``, or the one about to be overwritten in ``out`` where it is for the same
    ``target``; None where there is no such plan. Raises InputError where the stated one is no plan."""
    if stated is None:
        try:
            record: dict[str, Any] = json.loads((out / "plan.json").read_text(encoding="utf-8"))
            known_lows(record)
            same = (record["target"]["sha256"], record["target"]["unit"]) == (target.sha256, target.unit)
        except (OSError, ValueError, KeyError, TypeError, InputError):
            return None  # not asked for, so nothing to complain of
        return record if same else None
    path = stated / "plan.json"
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(f"--before {stated}: there is no plan.json that can be read ({error.strerror}); give the "
                         "folder that a plan was written to") from error
    except ValueError as error:
        raise InputError(f"--before {stated}: its plan.json is damaged ({error}); leave it out, or plan again"
                         ) from error
    known_lows(record)
    return record
