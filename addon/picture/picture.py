"""Picture: the map from chosen views as PNG files, and the scan's own photograph from the same views."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from bpy.props import BoolProperty, IntProperty, StringProperty

from ...core.errors import FillwrightError
from ...core.files.atomic_write import atomic_write
from ...core.map.views import View, at_area, from_a_side, square_on
from ...core.picture.picture import caption, sheet
from ..map import maps
from ..map.fill_map import key_of
from ..map.planned_first import PlannedFirst
from ..names import ids
from ..names.choices import preferences, with_hatch
from ..scene.chosen import PANEL, source
from ..scene.scene_meshes import SceneError
from .compose import Look, blank_page, map_png, photo_png
from .render import Studio
from .sitter import Sitter, sit

VIEWS = ("present", "square", "left", "right", "lows")
_RELATIVE = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set()  # older ones need not be told
WIDTH, HEIGHT = 2100, 1485  # A4 across at 180 dots an inch


def pictures(
    context: bpy.types.Context, views: set[str], width: int, height: int, name: str, photo: bool
) -> dict[str, bytes]:
    """PNG files by name, each beginning with ``name``, of the scene's plan; ``views`` from VIEWS.

    Raises SceneError or InputError.
    """
    scene, page = context.scene, sheet(width, height)
    with Studio() as studio:
        sitter = sit(studio, scene, context.evaluated_depsgraph_get())
        look = _look(scene, page)
        record = json.loads(scene.fillwright.record)
        files: dict[str, bytes] = {}
        blank: Any = None
        for view in _views(context, sitter, views, page.map.aspect):
            words = caption(record, _panel_name(scene), view.title, _today(), look.unit, scene.fillwright.out_of_date)
            stem = name if view.name == "square" else f"{name}-{view.name}"
            blank = blank_page(studio, look, words, True) if blank is None else blank
            files[f"{stem}.png"] = map_png(studio, sitter, view, look, words, blank)
            taken = photo_png(studio, sitter, view, look, words) if photo else None
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


def _panel_name(scene: bpy.types.Scene) -> str:
    own = scene.fillwright
    chosen = source(own, PANEL)
    return chosen.name if chosen else "Panel"


def _today() -> str:
    today = datetime.date.today()
    return f"{today.day} {today:%B %Y}"


class FILLWRIGHT_OT_picture(PlannedFirst, bpy.types.Operator):
    bl_idname = ids.PICTURE
    bl_label = "Picture"
    bl_description = "Save the map with title and legend as PNG files, and the scan's own photograph beside them"

    present: BoolProperty(name="Present View", description="As the 3D view shows the panel now")
    square: BoolProperty(name="Square On", default=True, description="The whole panel, straight from the front")
    left: BoolProperty(name="From the Left", description="The whole panel, from the left and a little above")
    right: BoolProperty(name="From the Right", description="The whole panel, from the right and a little above")
    lows: BoolProperty(name="Each Low", description="Each low with what lies around it")
    width: IntProperty(name="Width", default=WIDTH, min=640, max=8000, subtype="PIXEL", description="Pixels across")
    height: IntProperty(name="Height", default=HEIGHT, min=450, max=8000, subtype="PIXEL", description="Pixels down")
    photo: BoolProperty(
        name="Photograph", default=True, description="Also save the scan's own texture or colours, where it has any",
    )
    as_it_is: BoolProperty(
        default=False, options={"HIDDEN", "SKIP_SAVE"}, description="Don't ask whether to plan again first",
    )
    folder: StringProperty(
        name="Folder", subtype="DIR_PATH", options=_RELATIVE,
        description="Where the files go; empty is the folder chosen in the preferences",
    )

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        shown = maps.is_shown(context.scene.fillwright, maps.FILL)
        return "" if shown else "Show the Fill Map first: a picture prints what is shown"

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if context.scene.fillwright.out_of_date and not self.as_it_is:
            context.window_manager.popup_menu(_ask, title="The plan is out of date", icon="ERROR")
            return {"CANCELLED"}
        if not any(self.properties.is_property_set(view) for view in VIEWS):
            self.present, self.square = True, False
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, _context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        views = layout.column(heading="Views")
        for view in VIEWS:
            views.prop(self, view)
        for name in ("width", "height", "photo", "folder"):
            layout.prop(self, name)

    def execute(self, context: bpy.types.Context) -> set[str]:
        try:
            views = {view for view in VIEWS if getattr(self, view)}
            if not views:
                raise SceneError("no view is chosen; choose at least one")
            folder = _folder(self.folder)
            name = bpy.path.clean_name(_panel_name(context.scene)) + "-map"
            files = pictures(context, views, self.width, self.height, name, self.photo)
            written = atomic_write(folder, files)
        except (SceneError, FillwrightError) as error:
            self.report({"ERROR"}, str(error))
            return {"CANCELLED"}
        self.report({"INFO"}, f"Saved {', '.join(path.name for path in written)} in {folder}")
        return {"FINISHED"}


def _ask(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """A plan out of date: plan again, or pictures that say so."""
    layout = menu.layout
    layout.operator_context = "INVOKE_DEFAULT"
    layout.operator(ids.PLAN, text="Plan the Fill Again")
    layout.operator(ids.PICTURE, text="Picture as It Is, Marked Out of Date").as_it_is = True


def _folder(chosen: str) -> Path:
    own = preferences()
    folder = chosen or (own.pictures if own else "//")
    if folder.startswith("//") and not bpy.data.filepath:
        raise SceneError("this file has no folder yet; save it first, or choose a folder for pictures")
    return Path(bpy.path.abspath(folder))


CLASSES = (FILLWRIGHT_OT_picture,)
