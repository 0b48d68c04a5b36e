"""Run as a script in a process of its own: ``python answer.py FOLDER JOB PATH ...`` answers what FOLDER asks of JOB.

PATH ... are the places of core and of its libraries. Progress goes to the output as lines of share, tab and step.
A crash of compiled code ends this process and not its parent; an error of ours is one line on the error stream.
Exit status: 0 answered, 2 bad input, 3 no overlap, 1 anything else.
"""

import sys

ANSWERED, OTHER, WRONG, NO_OVERLAP = 0, 1, 2, 3


def _tell(share: float, step: str) -> None:
    sys.stdout.write(f"{share:.4f}\t{step}\n")
    sys.stdout.flush()


def main(folder: str, job: str) -> int:
    """Answer what ``folder`` asks of ``job``; the exit status."""
    from pathlib import Path

    from core.threads import one_for_matrices

    one_for_matrices()
    from core.errors import FillwrightError, NoOverlapError
    from core.jobs.registry import answer

    try:
        answer(Path(folder), job, _tell)
    except FillwrightError as error:
        sys.stderr.write(f"{error}\n")
        return NO_OVERLAP if isinstance(error, NoOverlapError) else WRONG
    except MemoryError:
        sys.stderr.write("there is not enough memory for meshes of this size; thin them first\n")
        return OTHER
    return ANSWERED


if __name__ == "__main__":
    sys.path[:0] = sys.argv[3:]
    sys.exit(main(*sys.argv[1:3]))
