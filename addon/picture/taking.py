"""The map's pictures, taken one after the other."""

from __future__ import annotations

import datetime
import json
from typing import Any

import bpy
import numpy as np

from ...core.map.views import View, at_area, from_a_side, square_on
from ...core.picture.picture import caption, sheet
from ...core.progress import Progress, report_progress, silent
from ..blender.steps import Steps, finished
from ..map.fill_map import key_of
from ..names.choices import with_hatch
from ..scene.chosen import PANEL, source
from ..scene.scene_meshes import SceneError
from .compose import Look, blank_page, map_png, photo_png
from .render import Studio
from .sitter import Sitter, sit

VIEWS = ("present", "square", "left", "right", "lows")


def pictures(
    context: bpy.types.Context, views: set[str], width: int, height: int, name: str, photo: bool
) -> dict[str, bytes]:
    """PNG files by name, each beginning with ``name``, of the scene's plan; ``views`` from VIEWS.

    Raises SceneError or InputError.
    """
    return finished(in_steps(context, views, width, height, name, photo))


def in_steps(
    context: bpy.types.Context, views: set[str], width: int, height: int, name: str, photo: bool,
    progress: Progress = silent,
) -> Steps[dict[str, bytes]]:
    """As `pictures`, in steps of about a second at most; where these are closed early nothing is left behind."""
    scene, page = context.scene, sheet(width, height)
    with Studio() as studio:
        sitter = sit(studio, scene, context.evaluated_depsgraph_get())
        yield
        look = _look(scene, page)
        record = json.loads(scene.fillwright.record)
        files: dict[str, bytes] = {}
        blank: Any = None
        chosen = _views(context, sitter, views, page.map.aspect)
        for number, view in enumerate(chosen):
            report_progress(progress, number / len(chosen), view.title)
            yield
            words = caption(record, panel_name(scene), view.title, _today(), look.unit, scene.fillwright.out_of_date)
            stem = name if view.name == "square" else f"{name}-{view.name}"
            blank = blank_page(studio, look, words, True) if blank is None else blank
            yield
            files[f"{stem}.png"] = yield from map_png(studio, sitter, view, look, words, blank)
            taken = (yield from photo_png(studio, sitter, view, look, words)) if photo else None
            if taken is not None:
                files[f"{stem}-photo.png"] = taken
    return files


def _look(scene: bpy.types.Scene, page: Any) -> Look:
    key, lay_up = key_of(scene)
    return Look(page, key, with_hatch(), lay_up, key.unit, scene.fillwright.planned_mm_per_unit)


def _views(context: bpy.types.Context, sitter: Sitter, wanted: set[str], aspect: float) -> list[View]:
    front = square_on(sitter.points, sitter.normals, aspect)
    made = []
    if "present" in wanted:
        made.append(_present(context, sitter, aspect))
    if "square" in wanted:
        made.append(front)
    made += [from_a_side(front, side, sitter.points, aspect) for side in ("left", "right") if side in wanted]
    for place, area in enumerate(context.scene.fillwright.areas, start=1):
        rows = sitter.area == place
        if "lows" in wanted and area.kind == "low" and rows.any():
            made.append(at_area(area.name, sitter.points[rows], sitter.normals[rows], aspect))
    return made


def _present(context: bpy.types.Context, sitter: Sitter, aspect: float) -> View:
    """What the 3D view shows, with at least as much to each side."""
    space = context.space_data
    if space is None or space.type != "VIEW_3D":
        screen = context.screen
        areas = [a for a in screen.areas if a.type == "VIEW_3D"] if screen and not bpy.app.background else []
        if not areas:
            raise SceneError("there is no 3D view to take the present view from; choose another view")
        space = areas[0].spaces.active
    region = space.region_3d
    axes = np.array(region.view_matrix.inverted(), dtype=np.float64)
    seen = np.array(region.window_matrix, dtype=np.float64)
    half = max(1.0 / seen[0, 0], aspect / seen[1, 1])
    right, up, toward, eye = axes[:3, :4].T
    return View("present", "As seen in the view", right, up, toward, eye - sitter.middle, half, region.is_perspective)


def panel_name(scene: bpy.types.Scene) -> str:
    """What the panel is called on pictures."""
    own = scene.fillwright
    chosen = source(own, PANEL)
    return chosen.name if chosen else "Panel"


def _today() -> str:
    today = datetime.date.today()
    return f"{today.day} {today:%B %Y}"
