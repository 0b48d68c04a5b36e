"""Whether the plan still holds: the meshes, their places and the settings are what it was made with.

What is compared is kept in the file, so that undo, redo, and loading the file again give the right answer too.
"""

from __future__ import annotations

from typing import Any

import bpy
from bpy.app.handlers import persistent

from ..blender.redraw import redraw_views
from ..names import ids
from .basis import made_from, made_with
from .chosen import PANEL, TARGET, both, things
from .scene_meshes import SceneError, mesh_arrays


def look_again(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Compare everything anew; takes some 30 ms for a million triangles."""
    own = scene.fillwright
    if own.plan_id:
        _set(own, not (_same_settings(scene) and _same_meshes(own, depsgraph) and _holds_its_own(own)))


def settings_changed(own: Any) -> None:
    """A setting was changed; the meshes are compared only where the settings are those of the plan again."""
    if own.plan_id and not _same_settings(own.id_data):
        _set(own, True)
    elif own.plan_id and own.out_of_date:
        look_again(own.id_data, bpy.context.evaluated_depsgraph_get())


def choice_changed(own: Any) -> None:
    """Another panel or finished shape was chosen."""
    if own.plan_id:
        look_again(own.id_data, bpy.context.evaluated_depsgraph_get())


def material_file_changed() -> None:
    """Another file of the user's materials was chosen; other scenes than this are told at their next update."""
    settings_changed(bpy.context.scene.fillwright)


def _set(own: Any, out_of_date: bool) -> None:
    if own.out_of_date != out_of_date:
        own.out_of_date = out_of_date
        redraw_views()


def _same_settings(scene: bpy.types.Scene) -> bool:
    return scene.fillwright.made_with == made_with(scene)


def _same_meshes(own: Any, depsgraph: bpy.types.Depsgraph) -> bool:
    try:
        panel, target = both(own)
        if any(obj.mode == "EDIT" for obj in (*panel.objects, *target.objects)):
            return not own.out_of_date  # told when the edit is finished
        meshes = [mesh_arrays(obj, depsgraph, own.use_work_area) for obj in panel.objects]
        meshes += [mesh_arrays(obj, depsgraph, False) for obj in target.objects]
    except SceneError:
        return False
    return own.made_from == made_from(tuple(meshes))


def _holds_its_own(own: Any) -> bool:
    """Whether what the meshes hold is this plan's: two scenes that share a panel share what is written on it. Meshes of
    files from before don't say."""
    marks = [one.obj.data.get(ids.PLANNED) for one in own.carriers if one.obj is not None]
    return all(mark in (None, own.plan_id) for mark in marks)


def _watched(own: Any) -> frozenset[int]:
    """Whose changes matter: the objects chosen and their meshes, by session_uid. What was deleted is not among them:
    the settings that point at it keep it in the file, but not in the scene."""
    scene = own.id_data
    found = [obj for role in (PANEL, TARGET) for obj in things(own, role) if obj.name in scene.objects]
    keys = [obj.data.shape_keys for obj in found if obj.type == "MESH" and obj.data.shape_keys]
    return frozenset(thing.session_uid for thing in (*found, *(obj.data for obj in found), *keys) if thing is not None)


_seen: dict[int, frozenset[int]] = {}  # by scene: what was watched at the last update, to tell that one came or went


@persistent
def _after_update(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """Look at the settings, and at the meshes only where one of ours was updated, came or went, and the plan held."""
    own = scene.fillwright
    if not own.plan_id or own.out_of_date or bpy.context.window_manager.fillwright_running:
        return
    changed = {u.id.original.session_uid for u in depsgraph.updates if u.is_updated_geometry or u.is_updated_transform}
    watched = _watched(own)
    before, _seen[scene.session_uid] = _seen.get(scene.session_uid), watched
    if changed & watched or watched != before:
        look_again(scene, depsgraph)
    elif not _same_settings(scene):
        _set(own, True)  # a material's figures were changed in the user's file


@persistent
def _after_undo(*_given: Any) -> None:
    """Undo brings back what the file held, which may be older than the last look."""
    for scene in bpy.data.scenes:
        if scene.fillwright.plan_id and scene == bpy.context.scene:
            look_again(scene, bpy.context.evaluated_depsgraph_get())


_HANDLERS = (
    (bpy.app.handlers.depsgraph_update_post, _after_update),
    (bpy.app.handlers.undo_post, _after_undo),
    (bpy.app.handlers.redo_post, _after_undo),
)


def register() -> None:
    for handlers, function in _HANDLERS:
        handlers.append(function)


def unregister() -> None:
    for handlers, function in _HANDLERS:
        if function in handlers:
            handlers.remove(function)
