"""The plain function on a scene's meshes: core's `make_plan` from the tree, in a process of its own, beside the add-on.

Blender is asked for the arrays here in another way than the add-on asks.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import bpy
import numpy as np

ROOT = Path(__file__).resolve().parents[2]
_CODE = """
import json, sys
sys.path[:0] = sys.argv[2:]
from pathlib import Path
import numpy as np
from core.bench.materials import pick
from core.planning.plan import make_plan
from core.settings import Settings
from core.surface.validate import validate
folder = Path(sys.argv[1])
given = np.load(folder / "given.npz")
settings = Settings(**json.loads((folder / "settings.json").read_text()))
panel, target = (validate(given[n + "_v"], given[n + "_t"], n) for n in ("panel", "target"))
plan = make_plan(panel, target, settings, pick(settings.material, None))
found, row = plan.survey, plan.panel.surface.row_of_input
assert (row >= 0).all()
np.savez(
    folder / "plain.npz", depth=found.depth.depth_mm[row], judged=(found.depth.judged & found.planned)[row],
    label=found.areas.label[row], fill=plan.totals.fill_mm3, overbuild=plan.totals.minimum_overbuild_mm,
    volumes=[w.area.volume_mm3 for w in plan.works], deepest=[w.area.depth_max_mm for w in plan.works],
    kinds=[w.area.kind for w in plan.works],
)
"""


@dataclass(frozen=True)
class Plain:
    """What the plain function found, by vertex of the panel and by area."""

    depth_mm: Any
    area: Any
    fill_mm3: float
    overbuild_mm: float
    volumes_mm3: Any
    deepest_mm: Any
    kinds: list[str]


def plain(panel: bpy.types.Object, target: bpy.types.Object, settings: dict[str, Any], folder: Path) -> Plain:
    """The plan of two objects whose units are mm, with settings by core's names."""
    arrays = {}
    for name, obj in (("panel", panel), ("target", target)):
        place = obj.matrix_world
        arrays[f"{name}_v"] = np.array([tuple(place @ vertex.co) for vertex in obj.data.vertices])
        arrays[f"{name}_t"] = np.array([tuple(polygon.vertices) for polygon in obj.data.polygons])
    np.savez(folder / "given.npz", **arrays)
    (folder / "settings.json").write_text(json.dumps(settings), encoding="utf-8")
    places = [path for path in sys.path if path.endswith("site-packages")]
    subprocess.run([sys.executable, "-I", "-c", _CODE, str(folder), str(ROOT), *places], check=True)
    with np.load(folder / "plain.npz") as found:
        return Plain(
            np.where(found["judged"], found["depth"], np.nan), found["label"], float(found["fill"]),
            float(found["overbuild"]), found["volumes"], found["deepest"], found["kinds"].tolist(),
        )
