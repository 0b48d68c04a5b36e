"""Products of small matrices in one thread, wherever core runs in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

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
