"""What is chosen as panel and as finished shape: one object, or a collection instead of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import bpy

from ..names import ids
from .scene_meshes import SceneError

PANEL, TARGET = "panel", "target"
NO_WORK_AREA = "Work Area Only is on, but the panel has no vertex group Work Area; mark one, or turn it off"
NAMES = {PANEL: "panel", TARGET: "finished shape"}


@dataclass(frozen=True)
class Chosen:
    """Objects that play one part, called ``name`` in messages, and the ``unit`` that is declared for them."""

    name: str
    objects: tuple[bpy.types.Object, ...]
    unit: str


def source(own: Any, role: str) -> bpy.types.Object | bpy.types.Collection | None:
    """The collection or the object that is chosen as `PANEL` or `TARGET`."""
    return getattr(own, f"{role}_collection") or getattr(own, role)


def things(own: Any, role: str) -> list[bpy.types.Object]:
    """All objects that are chosen so, whatever they are; none where nothing is chosen."""
    found = source(own, role)
    if isinstance(found, bpy.types.Collection):
        return list(found.all_objects)
    return [] if found is None else [found]


def meshes_of(found: bpy.types.Object | bpy.types.Collection | None, what: str) -> tuple[bpy.types.Object, ...]:
    """The meshes of a collection, or the one object; SceneError where there is none, ``what`` it was to be."""
    if isinstance(found, bpy.types.Collection):
        meshes = tuple(obj for obj in found.all_objects if obj.type == "MESH" and not obj.get(ids.RESULT))
        if not meshes:
            raise SceneError(f"the collection {found.name} holds no mesh; choose the one with {what}")
        return meshes
    if found is None:
        raise SceneError(f"no {what} is chosen; choose it under Set Out or Finished Shape")
    return (found,)


def part(own: Any, role: str) -> Chosen:
    """The panel, or the finished shape; SceneError where it can't be used."""
    objects = meshes_of(source(own, role), NAMES[role])
    return Chosen(NAMES[role], objects, getattr(own, f"{role}_unit"))


def both(own: Any) -> tuple[Chosen, Chosen]:
    """The panel and the finished shape; SceneError where these can't be used together."""
    panel, target = part(own, PANEL), part(own, TARGET)
    if set(panel.objects) & set(target.objects):
        raise SceneError("the same object is chosen as panel and as finished shape; choose the scan and the shape")
    check_here(own, *panel.objects, *target.objects)
    return panel, target


def check_here(own: Any, *objects: bpy.types.Object) -> None:
    """SceneError where an object was deleted: what points at it keeps it in the file, but not in the scene."""
    gone = [obj.name for obj in objects if own.id_data not in obj.users_scene]
    if gone:
        raise SceneError(f"{gone[0]} is not in this scene any more; choose another, or undo")


def first_source(own: Any) -> bpy.types.Object | bpy.types.Collection | None:
    """What is chosen as finished shape; where it was itself set in or moved out, the shape that it was made from."""
    if own.target_collection is not None or own.target is None:
        return own.target_collection
    found = own.target.get(ids.SHAPE_FROM)
    is_there = isinstance(found, bpy.types.Collection) or (
        isinstance(found, bpy.types.Object) and own.id_data in found.users_scene)
    return found if is_there else own.target


def first_shape(own: Any) -> Chosen:
    """As `part` of the finished shape, for `first_source`."""
    return Chosen(NAMES[TARGET], meshes_of(first_source(own), NAMES[TARGET]), own.target_unit)
