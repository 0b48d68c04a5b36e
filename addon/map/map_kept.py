"""What the map changes about the user's objects, kept on the scene and given back when the map goes."""

from __future__ import annotations

import bpy

from ..names import ids
from ..scene.chosen import PANEL, TARGET, things
from ..state.scene_state import FillwrightScene

_USUAL = (0.8, 0.8, 0.8)  # Blender's grey for what has no material
_UNLIT = 0.45


def take(
    scene: bpy.types.Scene, own: FillwrightScene, holders: list[bpy.types.Object], colour: str
) -> None:
    """Make a map's colours the active ones, and hide what would lie over them: what was so before is kept."""
    for obj in holders:
        colours = obj.data.attributes
        if not obj.get(ids.RESULT):
            entry = own.map_kept.add()
            entry.obj, entry.colour = obj, colours.active_color_name
        if colour in colours:
            _activate(obj.data, colour)
    layer = _layer(scene)
    for obj in _in_the_way(own):
        if obj not in holders and obj.name in layer.objects and not obj.hide_get(view_layer=layer):
            entry = own.map_kept.add()
            entry.obj, entry.hidden = obj, True
            obj.hide_set(True, view_layer=layer)
    for obj in scene.objects:
        if obj not in holders and not obj.get(ids.RESULT) and _shows_its_own_colour(obj):
            entry = own.map_kept.add()
            entry.obj, entry.tinted, entry.tint = obj, True, obj.color
            obj.color = _grey(obj)


def _shows_its_own_colour(obj: bpy.types.Object) -> bool:
    """Whether the map's shading would draw the object in its own colour, white unless it was chosen."""
    faces = obj.type in {"MESH", "CURVE", "SURFACE", "META", "FONT"}
    return faces and obj.library is None and not (obj.type == "MESH" and len(obj.data.color_attributes))


def _grey(obj: bpy.types.Object) -> tuple[float, ...]:
    """The colour that Blender's own shading gives it: its material's, or the usual grey; darker, as a flat shape
    without light on it would look bright."""
    material = obj.active_material
    return (*(_UNLIT * c for c in (material.diffuse_color[:3] if material else _USUAL)), 1.0)


def _in_the_way(own: FillwrightScene) -> list[bpy.types.Object]:
    """The finished shape and the old scan lie over every low, and a panel that can't hold its colours over its map."""
    found = [own.panel, own.target, own.shaping.old, *things(own, PANEL), *things(own, TARGET)]
    return [obj for obj in found if obj is not None and obj.type == "MESH"]


def hides(own: FillwrightScene) -> bool:
    """Whether the map hides any of the user's objects now."""
    return any(entry.hidden for entry in own.map_kept)


def hide(scene: bpy.types.Scene, obj: bpy.types.Object, hidden: bool) -> None:
    """Hide an object of ours in the view, or show it as far as it is not switched off."""
    layer = _layer(scene)
    if obj.name in layer.objects:
        obj.hide_set(hidden, view_layer=layer)


def _layer(scene: bpy.types.Scene) -> bpy.types.ViewLayer:
    return bpy.context.view_layer if bpy.context.scene == scene else scene.view_layers[0]


def give_back(scene: bpy.types.Scene, own: FillwrightScene) -> None:
    """Everything as it was before a map was shown."""
    layer = _layer(scene)
    for entry in own.map_kept:
        if entry.obj is None:
            continue
        if entry.hidden and entry.obj.name in layer.objects:
            entry.obj.hide_set(False, view_layer=layer)
        if entry.tinted and _is_grey(entry.obj):
            entry.obj.color = entry.tint
        if entry.colour and entry.colour in entry.obj.data.attributes:
            _activate(entry.obj.data, entry.colour)
    own.map_kept.clear()


def _is_grey(obj: bpy.types.Object) -> bool:
    """Whether it still has the colour that the map gave it."""
    return all(abs(a - b) < 1e-6 for a, b in zip(obj.color, _grey(obj), strict=True))


def _activate(mesh: bpy.types.Mesh, colour: str) -> None:
    mesh.attributes.active_color_name = colour
    mesh.update_tag()  # else the views go on drawing the one that was active before
