"""``python -m core`` from the installed extension's own copy, and mesh files for it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np

from tests.addon.conftest import EXTENSIONS


def write_obj(path: Path, points: np.ndarray, triangles: np.ndarray) -> str:
    """A Wavefront OBJ; the path as text."""
    rows = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in points]
    rows += [f"f {a} {b} {c}" for a, b, c in triangles + 1]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return str(path)


def core(*words: str) -> subprocess.CompletedProcess[str]:
    """The command, with the wheels that the extension brought."""
    wheels = [str(path) for path in EXTENSIONS.rglob("site-packages")]
    code = "import sys\nsys.path[:0] = sys.argv[1].split('|')\nfrom core.__main__ import main\n"
    code += "sys.exit(main(sys.argv[2:]))"
    places = "|".join([str(EXTENSIONS / "user_default" / "fillwright"), *wheels])
    return subprocess.run([sys.executable, "-c", code, places, *words], capture_output=True, text=True, check=False)
