"""The plain functions of core for shapes and line-ups, in a process of its own, beside the add-on.

Blender is asked for the arrays here in another way than the add-on asks.
"""

from __future__ import annotations

import json
import subprocess
import sys
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
from core.place.onto import Landmarks, onto
from core.place.symmetry import find_symmetry
from core.shape.carry_through import carry_through
from core.shape.good_side import good_side
from core.shape.suggest import suggested_damage
from core.shape.shapes import as_it_was, build_over, metal_level
from core.surface.condition import mend
from core.surface.nearest import Tree
from core.surface.validate import validate
from core.surface.windings import turn_to_target
folder = Path(sys.argv[1])
given, asked = np.load(folder / "given.npz"), json.loads((folder / "asked.json").read_text())
def mesh(name):
    raw = validate(given[name + "_v"], given[name + "_t"], name)
    low, high = raw.box
    return mend(raw.about(0.5 * (low + high)), name)[0]
def marked(name, surface):
    marks = np.zeros(len(surface.vertices), bool)
    marks[surface.row_of_input[given[name + "_marks"]]] = True
    return marks
kind, figures, shape = asked["kind"], {}, None
if kind == "good_side":
    body = mesh("body")
    found = find_symmetry(body, aside=marked("body", body) if asked["marked"] else None)
    figures["off_mm_95"], shape = found.off_mm, good_side(body, found).surface
    figures["map_mm"] = found.apart_mm[body.row_of_input].tolist()
if kind == "carry_through":
    panel = mesh("panel")
    lines = tuple(np.array(line) - panel.origin for line in asked["creases"])
    found = carry_through(panel, marked("panel", panel), lines)
    figures["trust_mm_95"], shape = found.trust_mm, found.surface
if kind == "as_was":
    old = mesh("old")
    panel = mesh("panel")
    bare, _ = turn_to_target(panel.about(old.origin), old, Tree(old))
    found = as_it_was(old, bare, asked["paint_mm"], marked("old", old) if asked["marked"] else None)
    figures["old_filler_max_mm"], shape = float(np.nanmax(found.filler_mm)), found.surface
    figures["map_mm"] = found.filler_mm[panel.row_of_input].tolist()
if kind == "metal_level":
    shape = metal_level(mesh("target"), asked["filler_mm"]).surface
if kind == "suggest":
    panel = mesh("panel")
    figures["rows"] = np.flatnonzero(suggested_damage(panel)[panel.row_of_input]).tolist()
if kind == "build_over":
    target = mesh("target")
    tree = Tree(target)
    panel, _ = turn_to_target(mesh("panel").about(target.origin), target, tree)
    found = build_over(panel, target, tree, asked["skin_mm"])
    figures["offset_mm"], figures["fill_mm3"], shape = found.offset_mm, found.fill_mm3, found.surface
if kind == "line_up":
    target = mesh("target")
    pairs = None if asked["landmarks"] is None else np.array(asked["landmarks"])
    panel = mesh("panel")
    found = onto(panel, target, Tree(target), None if pairs is None else Landmarks(pairs[:, 0], pairs[:, 1]),
                 marked("panel", panel) if asked["marked"] else None)
    figures["matrix"], figures["residual_mm"] = found.motion.matrix().tolist(), found.fit.residual_mm
    figures["map_mm"] = found.fit.held_mm[panel.row_of_input].tolist()
(folder / "figures.json").write_text(json.dumps(figures))
if shape is not None:
    np.savez(folder / "plain.npz", vertices=shape.vertices + shape.origin, triangles=shape.triangles)
"""


def plain_shape(
    kind: str, folder: Path, roles: dict[str, bpy.types.Object], marked: str = "", mm: float = 1.0,
    group: str = "Damage", **asked: Any,
) -> tuple[dict[str, Any], Any]:
    """Figures, and the shape's vertices (k, 3) in mm or None; ``marked``: the role whose ``group`` is the mask."""
    arrays = {}
    for name, obj in roles.items():
        arrays[f"{name}_v"] = mm * points(obj)
        arrays[f"{name}_t"] = np.array([tuple(polygon.vertices) for polygon in obj.data.polygons])
        if name == marked:
            arrays[f"{name}_marks"] = damage(obj, group)
    np.savez(folder / "given.npz", **arrays)
    (folder / "asked.json").write_text(json.dumps({"kind": kind, "marked": bool(marked), **asked}), encoding="utf-8")
    places = [path for path in sys.path if path.endswith("site-packages")]
    subprocess.run([sys.executable, "-I", "-c", _CODE, str(folder), str(ROOT), *places], check=True)
    figures = json.loads((folder / "figures.json").read_text(encoding="utf-8"))
    if not (folder / "plain.npz").exists():
        return figures, None
    with np.load(folder / "plain.npz") as found:
        return figures, found["vertices"]


def damage(obj: bpy.types.Object, name: str = "Damage") -> Any:
    """Which vertices a group holds, asked of each in turn."""
    group = obj.vertex_groups[name].index
    return np.array([any(g.group == group and g.weight > 0.5 for g in vertex.groups) for vertex in obj.data.vertices])


def points(obj: bpy.types.Object) -> Any:
    """An object's vertices in the scene, (k, 3)."""
    own = np.array([tuple(vertex.co) for vertex in obj.data.vertices])
    place = np.array(obj.matrix_world)  # Blender's own product would be rounded to single precision
    return own @ place[:3, :3].T + place[:3, 3]
