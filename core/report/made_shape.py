"""A finished shape that was made here, in files: where it was made and its trust, at its vertices and in its report."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..depth.shape_trust import ShapeTrust, everywhere, together
from ..errors import InputError
from ..files.mesh_file import MeshFile
from ..surface.surface import Surface

MADE, TRUST, LINED_UP = "made", "trust_mm", "uncertainty_mm"
_ALWAYS = ("carry-through", "good-side", "as-was")  # set in or moved out it may be as exact as what it came from
_PREFIX = "fillwright."


def trust_columns(trust: ShapeTrust | None) -> dict[str, NDArray[Any]]:
    """``made`` (0 or 1) and ``trust_mm`` (n,) by name, for a file's vertices; nothing where there is no trust."""
    if trust is None:
        return {}
    return {MADE: trust.made.astype(np.uint8), TRUST: trust.trust_mm.astype(np.float32)}


def trust_record(trust: ShapeTrust | None, surface: Surface) -> dict[str, Any] | None:
    """``trust`` of the vertices of ``surface`` for JSON: mm2 invented, of unknown trust, and standard uncertainties."""
    if trust is None:
        return None
    areas, known = surface.vertex_areas, trust.trust_mm[np.isfinite(trust.trust_mm)]
    made = trust.trust_mm[trust.made & np.isfinite(trust.trust_mm)]
    return {
        "made_mm2": float(areas[trust.made].sum()),
        "unknown_mm2": float(areas[np.isnan(trust.trust_mm)].sum()),
        "greatest_mm": float(known.max(initial=0.0)),
        "rms_made_mm": float(np.sqrt(np.mean(made**2))) if len(made) else None,
    }


def read_trust(path: Path, reading: MeshFile, name: str, lined_up: bool = True) -> ShapeTrust | None:
    """The trust of the (k,) vertices of the mesh at ``path``, read as ``reading``, or None of a shape as designed.

    By its own vertices, which stay with them through other programs; the report beside it then only tells whether it
    was changed since. Where the vertices hold nothing, as an STL's can't, the report may tell that it was made: its
    trust is nan. ``lined_up``: a scan that was lined up counts as well, as far as that leaves it uncertain. ``name``
    begins the sentence of an InputError, raised for trust that can't be.
    """
    report = report_beside(path)
    foreign = report is not None and not belongs(report, reading)
    trust = together(_own(reading, name), _lined_up(reading) if lined_up else None)
    if trust is not None:
        return replace(trust, notes=_changed(path)) if foreign else trust
    return None if report is None else _by_report(path, report, foreign, reading, lined_up)


def report_beside(path: Path) -> dict[str, Any] | None:
    """The report of ours that lies beside the mesh at ``path``, or None."""
    try:
        report = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    ours = isinstance(report, dict) and str(report.get("format", "")).startswith(_PREFIX)
    return report if ours else None


def belongs(report: dict[str, Any], reading: MeshFile) -> bool:
    """Whether a ``report`` of ours is of the very file that was read."""
    mesh = report.get("mesh")
    return isinstance(mesh, dict) and mesh.get("sha256") == reading.sha256


def _own(reading: MeshFile, name: str) -> ShapeTrust | None:
    """What the vertices carry."""
    if MADE not in reading.properties or TRUST not in reading.properties:
        return None
    made, trust_mm = (reading.properties[key].astype(np.float64) for key in (MADE, TRUST))
    if np.isnan(made).any() or (trust_mm < 0).any() or np.isinf(trust_mm).any():
        raise InputError(f"{name}: its vertices' {TRUST} holds numbers below 0 or without end, or {MADE} is missing at "
                         "some; make the shape again, or take these two properties out of the file")
    return ShapeTrust(made != 0, trust_mm)


def _lined_up(reading: MeshFile) -> ShapeTrust | None:
    """What a line-up left at the vertices; past the edge of what it was lined up on the greatest of it."""
    held = reading.properties.get(LINED_UP)
    if held is None or not np.isfinite(held.astype(np.float64)).any():
        return None
    held = held.astype(np.float64)
    return ShapeTrust(np.zeros(len(held), dtype=bool), np.where(np.isfinite(held), held, np.nanmax(held)))


def _changed(path: Path) -> tuple[str, ...]:
    return (f"{path.with_suffix('.json').name} beside {path.name} is of another file: the shape may have been changed "
            "since it was made, and its trust is taken as its vertices have it; make it again to be sure",)


def _by_report(
    path: Path, report: dict[str, Any], foreign: bool, reading: MeshFile, lined_up: bool
) -> ShapeTrust | None:
    """Trust nan everywhere, where the report tells that the shape was made and nothing tells how well."""
    kind = report["format"].removeprefix(_PREFIX)
    made = kind in _ALWAYS or (kind == "line-up" and lined_up) or report.get("trust") is not None
    if not made:
        return None
    why = (f"{path.with_suffix('.json').name} beside it is of another file" if foreign else
           f"a file of the kind {path.suffix.lower()} can't hold it" if path.suffix.lower() != ".ply" else
           "its vertices have lost it")
    note = (f"{path.name} was made here ({kind}), and how far it may be off is not known, for {why}: the give or take "
            "says nothing of it; make the shape again as a .ply and plan against that")
    return everywhere(len(reading.surface.vertices), float("nan"), note)
