"""A plan asked for and answered through a folder of arrays, so that it can be made in a process of its own.

The asking side needs numpy only. What it leaves in the folder:

- request.json: ``panel`` and ``target``: lists of mesh names; ``settings`` by name; ``material``; ``materials``
  (a path or null); ``work_area`` (true where it is given); ``unit`` "mm" or "inch" for steps and numbers;
  ``before`` (a plan's record or null) and ``target_id``, a text that only the same finished shape has: the plan before
  counts where its ``target_id`` was the same;
  ``placing``, as a line-up's answer has it, takes the place of the settings' one figure for the line-up (or null).
- NAME.npz, one a mesh: ``vertices`` (k, 3) in its own coordinates, ``triangles`` (m, 3), ``matrix`` (4, 4) into the
  common frame, ``mm_per_unit`` of that frame; for a panel mesh ``work_area`` (k,) where it is given; for a finished
  shape that was made here ``made`` (k,) and ``trust_mm`` (k,), as `depth.shape_trust` has them.

What it finds there afterwards:

- plan.json as `plan_record` has it.
- answer.npz: for each vertex of the panel's meshes, one after the other, ``depth_mm`` (nan where not judged),
  ``steady_mm`` and ``area`` (0, or the place in plan.json's areas from 1); ``fill_vertices``, ``fill_triangles``,
  ``fill_area``; ``drawn_...``, the lines on the map as `map.drawn` packs them; ``chalk_vertices``,
  ``chalk_triangles``, and ``smudge_...``, what sets the chalk off from its ground. Points are in the common
  frame, in the panel's unit.
"""

from __future__ import annotations

import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .bench.materials import pick
from .depth.laid import KnownLow, known_lows
from .depth.shape_trust import ShapeTrust, joined_trust
from .files.atomic_write import write_whole
from .fill.fill_mesh import fill_mesh
from .legend.legend import legend
from .map.chalk import bands
from .map.chalk_marks import chalk_marks
from .map.drawn import packed
from .map.map_lines import map_lines
from .planning.plan import Plan, make_plan
from .progress import Progress
from .report.line_up_record import placing_of
from .report.made_shape import MADE, TRUST
from .report.plan_record import Source, plan_record
from .settings import Settings
from .surface.surface import Floats, Ints, Mask, Surface
from .surface.validate import checked

REQUEST, RECORD, ANSWER = "request.json", "plan.json", "answer.npz"


@dataclass(frozen=True)
class Placed:
    """Meshes joined in one frame, in mm; ``work_area`` (k,) or None; ``mm_per_unit`` of the frame that they came in;
    ``trust`` of the (k,) vertices, where any of the meshes was made here."""

    surface: Surface
    work_area: Mask | None
    mm_per_unit: float
    trust: ShapeTrust | None = None


def asks_for_a_plan(folder: Path) -> bool:
    """Whether the request in ``folder`` is for a plan; if it has a ``kind``, it is for `exchange_shapes`."""
    return "kind" not in json.loads((folder / REQUEST).read_text(encoding="utf-8"))


def answer(folder: Path, progress: Progress) -> None:
    """Make the plan that ``folder`` asks for and leave it there, whole or not at all."""
    request = json.loads((folder / REQUEST).read_text(encoding="utf-8"))
    panel = placed(folder, request["panel"], "panel", bool(request.get("work_area")))
    target = placed(folder, request["target"], "target", False)
    materials = request.get("materials")
    settings = Settings().changed(request["settings"])
    material = pick(request["material"], None if materials is None else Path(materials))
    placing = None if request.get("placing") is None else placing_of(request["placing"])
    plan = make_plan(
        panel.surface, target.surface, settings, material, panel.work_area, progress, placing=placing,
        before=_before(request), trust=target.trust,
    )
    mark = request.get("target_id", "")
    record = plan_record(plan, _source(request["panel"], panel), _source(request["target"], target, mark))
    unit = request.get("unit", "mm")
    record["shop_unit"] = unit
    write_whole(folder, {RECORD: json.dumps(record), ANSWER: npz(answer_arrays(plan, panel.mm_per_unit, unit))})


def placed(folder: Path, names: list[str], role: str, with_work_area: bool) -> Placed:
    """The meshes ``names`` of ``folder`` joined and brought into the common frame in mm; windings follow a mirror."""
    vertices, triangles, marks, trusts, count, scale = [], [], [], list[ShapeTrust | None](), 0, 1.0
    for name in names:
        with np.load(folder / f"{name}.npz") as mesh:
            matrix, scale = mesh["matrix"].astype(np.float64), float(mesh["mm_per_unit"])
            own = mesh["vertices"].astype(np.float64)
            vertices.append((own @ matrix[:3, :3].T + matrix[:3, 3]) * scale)
            mirrored = np.linalg.det(matrix[:3, :3]) < 0
            rows = mesh["triangles"].astype(np.int64) + count
            triangles.append(rows[:, ::-1] if mirrored else rows)
            if with_work_area:
                marks.append(mesh["work_area"].astype(bool))
            known = TRUST in mesh
            trusts.append(ShapeTrust(mesh[MADE].astype(bool), mesh[TRUST].astype(np.float64)) if known else None)
            count += len(own)
    joined = checked(np.concatenate(vertices), np.concatenate(triangles), role)
    marked = np.concatenate(marks) if with_work_area else None
    return Placed(joined, marked, scale, joined_trust(trusts, [len(each) for each in vertices]))


def _before(request: dict[str, Any]) -> tuple[KnownLow, ...]:
    record, target_id = request.get("before"), request.get("target_id")
    if not (record and target_id) or record["target"]["sha256"] != target_id:
        return ()
    return known_lows(record)


def _source(names: list[str], mesh: Placed, mark: str = "") -> Source:
    return Source(", ".join(names), mark, f"{mesh.mm_per_unit:g} mm", "")


def answer_arrays(plan: Plan, mm_per_unit: float, unit: str) -> dict[str, NDArray[np.generic]]:
    """The answer to be kept as answer.npz, for a frame of ``mm_per_unit`` and numbers in ``unit`` "mm" or "inch"."""
    found, panel = plan.survey, plan.panel.surface
    row = panel.row_of_input
    assert row is not None  # mend keeps it
    judged = found.planned & found.depth.judged
    key = legend(plan.settings.true_mm, plan.material.greatest_depth_mm, unit)
    vertices, triangles, area = _fill(plan)
    strokes = chalk_marks(plan, unit)
    chalk, chalk_triangles = bands(strokes, halo=False)
    smudge, smudge_triangles = bands(strokes, halo=True)
    return {
        "depth_mm": came(np.where(judged, found.depth.depth_mm, np.nan), row, np.nan).astype(np.float32),
        "steady_mm": came(np.where(judged, found.steady.depth_mm, np.nan), row, np.nan).astype(np.float32),
        "area": came(found.areas.label.astype(np.float64), row, 0.0).astype(np.int32),
        "fill_vertices": (vertices + panel.origin) / mm_per_unit,
        "fill_triangles": triangles,
        "fill_area": area,
        **packed(map_lines(plan, key), panel.origin, mm_per_unit),
        "chalk_vertices": (chalk + panel.origin) / mm_per_unit,
        "chalk_triangles": chalk_triangles,
        "smudge_vertices": (smudge + panel.origin) / mm_per_unit,
        "smudge_triangles": smudge_triangles,
    }


def came(values: Floats, row: Ints, missing: float) -> Floats:
    """Values of a mended surface's vertices for the vertices that came; ``missing`` for those that were dropped."""
    return np.where(row >= 0, values[row], missing)


def _fill(plan: Plan) -> tuple[Floats, Ints, Ints]:
    """All lows' shells as one mesh, and for each triangle the place of its area, from 1."""
    found = plan.survey
    summed = found.areas.hemmed[found.sheets.parent]
    vertices, triangles, areas, count = [np.empty((0, 3))], [np.empty((0, 3), dtype=np.int64)], [], 0
    for place, area in enumerate(found.areas.found, start=1):
        if area.kind == "low":
            shell = fill_mesh(found.sheets, summed == place)
            vertices.append(shell.vertices)
            triangles.append(shell.triangles + count)
            areas += [np.full(len(shell.triangles), place)]
            count += len(shell.vertices)
    return np.concatenate(vertices), np.concatenate(triangles), np.concatenate(areas or [np.empty(0, dtype=np.int64)])


def npz(arrays: dict[str, NDArray[np.generic]]) -> bytes:
    """Arrays as the bytes of an .npz file."""
    buffer = io.BytesIO()
    np.savez(buffer, **arrays)
    return buffer.getvalue()
