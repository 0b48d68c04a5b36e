"""Line-ups and finished shapes asked for and answered through a folder, as plans are (see `exchange`).

- request.json: ``kind``, one of the names below; lists of mesh names by role; further figures by name.
- answer.json: the figures; answer.npz: ``vertices`` and ``triangles`` of the new shape, in the first mesh's frame and
  unit, with ``made`` and ``trust_mm`` at its vertices where it may itself be off, and ``map_mm``, values of a map for
  each vertex of the meshes in the table's last column, one after the other (nan where not judged; see
  `map.map_keys`). A line-up has no shape; among its figures are ``matrix`` (4, 4), row by row, which takes the
  panel's frame in its unit into the target's in its own, and ``placing``: ``covariance`` (6, 6) of a turn (radians)
  about ``centre_mm`` (3,) and a shift (mm), both in the target's frame in mm.

| kind | roles | figures | map of |
|---|---|---|---|
| line_up | panel (``work_area``: set aside, if ``marked``), target | ``landmarks``: pairs of points, or null | panel |
| good_side | body (as panel in line_up), partner (may be empty) | ``plane``: three points, or null | body |
| carry_through | panel, with ``work_area`` as the mask | ``creases``: lines of points; ``lines``: false for none | |
| suggest | panel | | panel (1: damaged) |
| as_was | old (its ``work_area``: bad spots, if ``marked``), panel | ``paint_mm`` | panel |
| metal_level | target | ``filler_mm`` | |
| build_over | panel, target | ``skin_mm`` | |
| weigh_up | panel (``work_area`` if ``marked``), each of ``shapes`` by its own name | as a plan has them, ``rough`` | |
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .bench.materials import Material, pick
from .depth.outer_side import facing_target
from .depth.shape_trust import ShapeTrust, together
from .errors import InputError
from .exchange import ANSWER, REQUEST, Placed, came, npz, placed
from .files.atomic_write import write_whole
from .place.locating import Locating
from .place.onto import Landmarks, onto
from .place.symmetry import find_symmetry, plane_through
from .planning.warn import coverage
from .planning.weigh_up import weigh_up
from .progress import Progress
from .report.line_up_record import line_up_record, placing_of, placing_record
from .report.made_shape import trust_columns
from .settings import Settings
from .shape.carry_through import carry_through
from .shape.good_side import good_side
from .shape.shapes import MOVES, as_it_was, build_over, metal_level
from .shape.sides_trust import trust_of_image
from .shape.suggest import suggested_damage
from .surface.condition import mend
from .surface.nearest import Tree
from .surface.surface import Floats, Mask, Surface

FIGURES = "answer.json"


@dataclass(frozen=True, eq=False)
class Answer:
    """What was found: ``figures``, with ``mm_per_unit``; a new ``shape``; ``map_mm`` (k,) of the vertices that came;
    ``trust`` of the shape's vertices."""

    figures: dict[str, Any]
    shape: Surface | None = None
    map_mm: Floats | None = None
    trust: ShapeTrust | None = None

    @property
    def arrays(self) -> dict[str, NDArray[np.generic]]:
        """All of it that is no figure."""
        found: dict[str, NDArray[np.generic]] = {}
        if self.shape is not None:
            found["vertices"] = (self.shape.vertices + self.shape.origin) / float(self.figures["mm_per_unit"])
            found["triangles"] = self.shape.triangles
            found.update(trust_columns(self.trust))
        if self.map_mm is not None:
            found["map_mm"] = self.map_mm.astype(np.float32)
        return found


def answer_shape(folder: Path, progress: Progress) -> None:
    """Do what ``folder`` asks for and leave the answer there, whole or not at all."""
    request = json.loads((folder / REQUEST).read_text(encoding="utf-8"))
    kind = request["kind"]
    if kind not in _KINDS:
        raise InputError(f"request: {kind!r} came; one of {', '.join(_KINDS)} is wanted")
    found = _KINDS[kind](folder, request, progress)
    files: dict[str, bytes | str] = {FIGURES: json.dumps(found.figures)}
    if found.arrays:
        files[ANSWER] = npz(found.arrays)
    write_whole(folder, files)


def _ready(folder: Path, names: list[str], role: str, marked: bool = False) -> tuple[Surface, Placed, Mask | None]:
    """A role's meshes mended about their middle, as they came, and their marks for the mended vertices."""
    mesh = placed(folder, names, role, marked)
    low, high = mesh.surface.box
    surface, _ = mend(mesh.surface.about(0.5 * (low + high)), role)
    if mesh.work_area is None:
        return surface, mesh, None
    marks, row = np.zeros(len(surface.vertices), dtype=bool), surface.row_of_input
    if row is not None:
        marks[row[mesh.work_area & (row >= 0)]] = True
    return surface, mesh, marks


def _trust(surface: Surface, mesh: Placed) -> ShapeTrust | None:
    """Of a role's mended meshes, where any of them was made here."""
    return None if mesh.trust is None else mesh.trust.moved(surface)


def _locating(request: dict[str, Any]) -> Locating:
    locate = request.get("locate", ())
    return Locating("holes" in locate, "rims" in locate)


def _check_left(aside: Mask | None, role: str) -> None:
    if aside is not None and aside.all():
        raise InputError(f"{role}: all of it is set aside; leave its sound metal unmarked")


def _line_up(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    panel, mesh, aside = _ready(folder, request["panel"], "panel", bool(request.get("marked")))
    target, shape, _ = _ready(folder, request["target"], "target")
    _check_left(aside, "panel")
    landmarks = None
    if request.get("landmarks"):
        pairs = np.asarray(request["landmarks"], dtype=np.float64)
        landmarks = Landmarks(pairs[:, 0] * mesh.mm_per_unit, pairs[:, 1] * shape.mm_per_unit)
    finish_mm = float(request.get("finish_mm", 0.0))
    found = onto(panel, target, Tree(target), landmarks, aside, _locating(request), finish_mm, progress)
    matrix = found.motion.matrix()
    matrix[:3, :3] *= mesh.mm_per_unit / shape.mm_per_unit
    matrix[:3, 3] /= shape.mm_per_unit
    record = {**line_up_record(found), "placing": placing_record(found.fit.worth.placing, target.origin)}
    figures = {**record, "matrix": matrix.tolist(), "mm_per_unit": mesh.mm_per_unit}
    return Answer(figures, None, _map(found.fit.held_mm, found.panel))


def _good_side(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    body, mesh, aside = _ready(folder, request["body"], "body", bool(request.get("marked")))
    _check_left(aside, "body")
    partner = _ready(folder, request["partner"], "partner")[0].about(body.origin) if request.get("partner") else None
    start = None
    if request.get("plane"):
        start = plane_through(np.asarray(request["plane"], dtype=np.float64) * mesh.mm_per_unit - body.origin)
    found = find_symmetry(body, start, partner, aside, _locating(request), progress)
    offset = found.plane.offset_mm + float(found.plane.normal @ body.origin)
    half = good_side(body, found, None, aside) if partner is None else None
    figures = {"mm_per_unit": mesh.mm_per_unit, "normal": found.plane.normal.tolist(),
               "offset": offset / mesh.mm_per_unit, "off_mm_95": _number(found.off_mm),
               "sound_share": found.fit.share, "good_side": None if half is None else half.side,
               "warnings": [*found.warnings, *(half.warnings if half else ())]}
    shape = found.plane.surface(body) if half is None else half.surface
    return Answer(figures, shape, _map(found.apart_mm, body), trust_of_image(body, found, shape, _trust(body, mesh)))


def _suggest(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    panel, mesh, _ = _ready(folder, request["panel"], "panel")
    marks = suggested_damage(panel, progress)
    if not marks.any():
        raise InputError("nothing on the panel is bent otherwise than the metal around it; mark the damage by hand")
    figures = {"mm_per_unit": mesh.mm_per_unit, "area_mm2": float(panel.vertex_areas[marks].sum()), "warnings": []}
    return Answer(figures, None, _map(marks.astype(np.float64), panel))


def _carry_through(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    panel, mesh, mask = _ready(folder, request["panel"], "panel", marked=True)
    lines: tuple[Floats, ...] = tuple(
        np.asarray(line, dtype=np.float64) * mesh.mm_per_unit - panel.origin for line in request.get("creases", ())
    )
    marks = mask if mask is not None else np.zeros(len(panel.vertices), bool)
    found = carry_through(panel, marks, lines, progress, bool(request.get("lines", True)))
    figures = {"mm_per_unit": mesh.mm_per_unit, "degrees": list(found.degrees), "trust_mm_95": _number(found.trust_mm),
               "lines": [((line + panel.origin) / mesh.mm_per_unit).tolist() for line in found.lines],
               "warnings": list(found.warnings)}
    return Answer(figures, found.surface, None, together(found.trust, _trust(panel, mesh)))


def _as_was(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    old, mesh, bad = _ready(folder, request["old"], "old scan", bool(request.get("marked")))
    panel = _ready(folder, request["panel"], "panel")[0].about(old.origin)
    bare, notes = facing_target(panel, old, Tree(old))
    found = as_it_was(old, bare, float(request["paint_mm"]), bad)
    thick = found.filler_mm[np.isfinite(found.filler_mm)]
    figures = {"mm_per_unit": mesh.mm_per_unit,
               "old_filler_mm": {"max": float(thick.max()), "p95": float(np.percentile(thick, 95))},
               "warnings": [*notes, *found.warnings]}
    return Answer(figures, found.surface, _map(found.filler_mm, bare), together(found.trust, _trust(old, mesh)))


def _metal_level(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    target, mesh, _ = _ready(folder, request["target"], "target")
    level = metal_level(target, float(request["filler_mm"]))
    figures = {"mm_per_unit": mesh.mm_per_unit, "warnings": list(level.warnings)}
    return Answer(figures, level.surface, None, _trust(target, mesh))


def _build_over(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    panel, _, _ = _ready(folder, request["panel"], "panel")
    target, mesh, _ = _ready(folder, request["target"], "target")
    tree = Tree(target)
    here, notes = facing_target(panel.about(target.origin), target, tree)
    trust = _trust(target, mesh)
    built = build_over(here, target, tree, float(request["skin_mm"]), progress, trust)
    figures = {"mm_per_unit": mesh.mm_per_unit, "offset_mm": built.offset_mm, "fill_mm3": built.fill_mm3,
               "finished_mass_g": built.fill_mm3 / 1000 * _material(request).density_g_cm3,
               "warnings": [MOVES, *notes, *coverage(here, built.survey), *built.warnings]}
    return Answer(figures, built.surface, None, trust)


def _weigh_up(folder: Path, request: dict[str, Any], progress: Progress) -> Answer:
    panel = placed(folder, request["panel"], "panel", bool(request.get("marked")))
    came = {name: placed(folder, meshes, name, False) for name, meshes in request["shapes"].items()}
    shapes, trusts = {n: one.surface for n, one in came.items()}, {n: one.trust for n, one in came.items()}
    material = _material(request)
    settings = Settings().changed(request["settings"])
    rows = weigh_up(panel.surface, shapes, settings, material, bool(request.get("rough")), progress, panel.work_area,
                    placing=placing_of(request["placing"]) if request.get("placing") else None, trusts=trusts)
    warnings = [f"{row.name}: {text}" for row in rows for text in row.warnings]
    return Answer({"mm_per_unit": panel.mm_per_unit, "shapes": [row.as_dict() for row in rows], "warnings": warnings})


def _map(values: Floats, surface: Surface) -> Floats:
    """Values (n,) of a mended surface for the vertices that came."""
    assert surface.row_of_input is not None  # mend keeps it
    return came(values, surface.row_of_input, np.nan)


def _material(request: dict[str, Any]) -> Material:
    materials = request.get("materials")
    return pick(request["material"], None if materials is None else Path(materials))


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


_KINDS: dict[str, Callable[[Path, dict[str, Any], Progress], Answer]] = {
    "line_up": _line_up, "good_side": _good_side, "carry_through": _carry_through, "suggest": _suggest,
    "as_was": _as_was, "metal_level": _metal_level, "build_over": _build_over, "weigh_up": _weigh_up,
}
