"""Products of small matrices in one thread, wherever core runs in a process of its own; our own threads in order."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from threading import Event

import pytest

from core.threads import at_once, each

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(("said", "taken"), [(None, "1"), ("3", "3")])
@pytest.mark.parametrize("start", [
    "import core.__main__ as main; main.main(['plan', 'nowhere.ply', 'nowhere.ply', '--out', 'x'])",
    "import core.child.answer as child; child.main('nowhere', 'plan')",
])
def test_one_unless_the_user_says_otherwise_and_before_numpy(start: str, said: str | None, taken: str) -> None:
    wanted = {"OPENBLAS_NUM_THREADS": said} if said else {}
    kept = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    code = (
        "import os, sys\nclass Seen:\n    def find_spec(self, name, *_):\n"
        "        if name == 'numpy':\n            print(os.environ.get('OPENBLAS_NUM_THREADS'))\n"
        f"sys.meta_path.insert(0, Seen())\n{start}\n"
    )
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, env={**kept, **wanted}, capture_output=True, text=True,
                         check=False)
    assert ran.stdout.split()[0] == taken, ran.stderr


def test_each_in_its_place_however_long_it_takes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first ends last: it waits until the third is done."""
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    third_done = Event()

    def work(k: int) -> int:
        if k == 0:
            assert third_done.wait(10)
        if k == 2:
            third_done.set()
        return 10 * k

    assert each(work, range(5)) == [0, 10, 20, 30, 40]


def test_an_error_of_either_comes_out_and_the_first_one_s_first() -> None:
    def fails(said: str) -> int:
        raise ValueError(said)

    with pytest.raises(ValueError, match="first"):
        at_once(lambda: fails("first"), lambda: fails("second"))
    with pytest.raises(ValueError, match="second"):
        at_once(lambda: 1, lambda: fails("second"))
    with pytest.raises(ValueError, match="third"):
        each(lambda k: fails("third") if k == 3 else k, range(9))
