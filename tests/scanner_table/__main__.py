"""README's table "Is my scanner good enough?": ``python -m tests.scanner_table [--recorded]``, some minutes.

Scans a panel with lows of known size with scanners of known noise, lines each scan up from five clicks and plans it;
prints the table and keeps the outcomes in recorded.json beside this file. ``--recorded`` prints what is kept.
"""

from __future__ import annotations

import os
import sys
from argparse import ArgumentParser

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: there is a process for each core

from .scanners import Outcomes, record, recorded, scanned  # noqa: E402
from .table import table  # noqa: E402


def main() -> None:
    parser = ArgumentParser(prog="python -m tests.scanner_table", description=__doc__)
    parser.add_argument("--recorded", action="store_true", help="print what is kept, and scan nothing")
    if parser.parse_args().recorded:
        sys.stdout.write(table(recorded()) + "\n")
        return
    outcomes: Outcomes = {}
    for scanner, each in scanned():
        outcomes[scanner] = each
        sys.stderr.write(f"{scanner}\n")
    record(outcomes)
    sys.stdout.write(table(outcomes) + "\n")


if __name__ == "__main__":
    main()
