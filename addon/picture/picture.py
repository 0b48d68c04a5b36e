"""Picture: the map from chosen views as PNG files, and the scan's own photograph from the same views."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any

import bpy
from bpy.props import BoolProperty, IntProperty, StringProperty

from ...core.errors import FillwrightError
from ...core.files.atomic_write import atomic_write
from ..blender.redraw import redraw_sidebar
from ..blender.steps import Steps, finished
from ..child import work_shown
from ..map import maps
from ..map.planned_first import PlannedFirst
from ..names import ids
from ..names.choices import preferences
from ..scene.scene_meshes import SceneError
from ..sidebar.shown import paragraph
from .taking import VIEWS, in_steps, panel_name

_RELATIVE = {"PATH_SUPPORTS_BLEND_RELATIVE"} if bpy.app.version >= (4, 5, 0) else set()  # older ones need not be told
WIDTH, HEIGHT = 2100, 1485  # A4 across at 180 dots an inch
_REST = ("width", "height", "photo", "folder")


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
    begin: BoolProperty(
        default=False, options={"HIDDEN", "SKIP_SAVE"}, description="Take the pictures without asking first",
    )
    folder: StringProperty(
        name="Folder", subtype="DIR_PATH", options=_RELATIVE,
        description="Where the files go; empty is the folder chosen in the preferences",
    )

    _in_dialog = False
    _taking: Steps[dict[str, bytes]] | None = None
    _timer: bpy.types.Timer | None = None

    @classmethod
    def missing(cls, context: bpy.types.Context) -> str:
        if context.window_manager.fillwright_running:
            return work_shown.WAIT
        shown = maps.is_shown(context.scene.fillwright, maps.FILL)
        return "" if shown else "Show the Fill Map first: a picture prints what is shown"

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        if self.begin:
            return self._begin(context)
        if context.scene.fillwright.out_of_date and not self.as_it_is:
            context.window_manager.popup_menu(_ask, title="The plan is out of date", icon="ERROR")
            return {"CANCELLED"}
        if not any(self.properties.is_property_set(view) for view in VIEWS):
            self.present, self.square = True, False
        self._in_dialog = True
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        layout.use_property_split = True
        views = layout.column(heading="Views")
        for view in VIEWS:
            views.prop(self, view)
        for name in _REST:
            layout.prop(self, name)
        wrong = folder_problem(self.folder)
        if wrong:
            paragraph(layout, wrong[:1].upper() + wrong[1:], "ERROR")

    def execute(self, context: bpy.types.Context) -> set[str]:
        """Take them all at once, in scripts; where the dialog was asked, begin work that the window shows."""
        wrong = folder_problem(self.folder) or ("" if self._wanted() else "no view is chosen; choose at least one")
        if self._in_dialog and context.window is not None:
            bpy.ops.fillwright.picture("INVOKE_DEFAULT", **self._words(), begin=not wrong, as_it_is=True)
            return {"FINISHED"}
        try:
            if wrong:
                raise SceneError(wrong)
            return self._save(finished(self._steps(context)))
        except FillwrightError as error:
            return self._refuse(error)

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[str]:
        """Nothing else is to be done meanwhile: the studio holds copies of what is in the scene."""
        if event.type == "ESC":
            self.cancel(context)
            self.report({"INFO"}, "Stopped; no picture was saved")
            return {"CANCELLED"}
        if event.type != "TIMER":
            return {"RUNNING_MODAL"}
        try:
            next(self._taking)
        except StopIteration as end:
            self.cancel(context)
            return self._save(end.value)
        except FillwrightError as error:
            self.cancel(context)
            return self._refuse(error)
        except Exception:
            self.cancel(context)
            raise
        return {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """Leave the studio, and everything as it was before."""
        if self._taking is not None:
            self._taking.close()
            self._taking = None
            work_shown.end(context, self._timer)
            redraw_sidebar()

    def _begin(self, context: bpy.types.Context) -> set[str]:
        self._taking = self._steps(context)
        self._timer = work_shown.begin(context, self, ids.PICTURE, "pictures")
        return {"RUNNING_MODAL"}

    def _wanted(self) -> set[str]:
        return {view for view in VIEWS if getattr(self, view)}

    def _words(self) -> dict[str, Any]:
        return {name: getattr(self, name) for name in (*VIEWS, *_REST)}

    def _steps(self, context: bpy.types.Context) -> Steps[dict[str, bytes]]:
        name = bpy.path.clean_name(panel_name(context.scene)) + "-map"
        tell = partial(work_shown.tell, context)
        return in_steps(context, self._wanted(), self.width, self.height, name, self.photo, tell)

    def _save(self, files: dict[str, bytes]) -> set[str]:
        try:
            folder = folder_of(self.folder)
            written = atomic_write(folder, files)
        except FillwrightError as error:
            return self._refuse(error)
        self.report({"INFO"}, f"Saved {', '.join(path.name for path in written)} in {folder}")
        return {"FINISHED"}

    def _refuse(self, error: FillwrightError) -> set[str]:
        self.report({"ERROR"}, str(error))
        return {"CANCELLED"}


def _ask(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """A plan out of date: plan again, or pictures that say so."""
    layout = menu.layout
    layout.operator_context = "INVOKE_DEFAULT"
    layout.operator(ids.PLAN, text="Plan the Fill Again")
    layout.operator(ids.PICTURE, text="Picture as It Is, Marked Out of Date").as_it_is = True


def folder_problem(chosen: str) -> str:
    """What is wrong with a folder that was chosen, in one sentence, or nothing."""
    try:
        folder = folder_of(chosen)
    except SceneError as error:
        return str(error)
    return f"{folder} is a file; choose a folder" if folder.is_file() else ""


def folder_of(chosen: str) -> Path:
    """The folder that pictures go to; SceneError where there is none yet."""
    own = preferences()
    folder = chosen or (own.pictures if own else "//")
    if not folder.strip() or (folder.startswith("//") and not bpy.data.filepath):
        raise SceneError("this file has no folder yet; save it first, or choose a folder for pictures")
    return Path(bpy.path.abspath(folder))


CLASSES = (FILLWRIGHT_OT_picture,)
