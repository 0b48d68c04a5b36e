"""What a plan is made of, as texts to compare: from what the user can change, and not in the add-on's way."""

from __future__ import annotations

import zlib
from typing import Any

import bpy
import numpy as np

from tests.random_use.world import is_ours, record_of

_MM = {"MM": 1.0, "CM": 10.0, "M": 1000.0, "INCH": 25.4}
_NUMBERS = ("bump_spacing_mm", "risk", "reserve_share", "true_mm", "reach_mm", "line_up_uncertainty_mm")
_CHOICES = ("material", "surface", "hand", "scanner", "use_work_area", "painted")


def geometry(mesh: Any) -> str:
    """A mesh's points and faces to the last bit."""
    points = np.empty(3 * len(mesh.vertices), dtype=np.float32)
    mesh.vertices.foreach_get("co", points)
    corners = np.empty(len(mesh.loops), dtype=np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    return f"{len(mesh.polygons)} {zlib.crc32(points):08x} {zlib.crc32(corners):08x}"


def values(mesh: Any, name: str) -> str:
    """An attribute's values to the last bit; nothing where there is none."""
    attribute = mesh.attributes.get(name)
    if attribute is None:
        return ""
    found = np.empty(len(attribute.data), dtype=np.float32)
    attribute.data.foreach_get("value", found)
    return f"{zlib.crc32(found):08x}"


def place(obj: Any) -> tuple[Any, ...]:
    """Where an object stands by its own figures and its parents'."""
    mine = tuple(round(x, 9) for row in obj.matrix_basis for x in row)
    return mine if obj.parent is None else (mine, place(obj.parent))


def made_of(scene: Any) -> tuple[Any, ...] | None:
    """All that a plan of the scene would be made of; None where none can be made."""
    own = scene.fillwright
    chosen = [_objects(own, role) for role in ("panel", "target")]
    if any(obj is None or obj.name not in scene.objects for objects in chosen for obj in objects):
        return None
    return (_settings(scene), *(tuple(_thing(obj, own.use_work_area and k == 0) for obj in objects)
                                for k, objects in enumerate(chosen)))


def is_edited(scene: Any) -> bool:
    """Whether one of the meshes is in Edit Mode: what changes there counts when it is left."""
    found = [obj for role in ("panel", "target") for obj in _objects(scene.fillwright, role)]
    return any(obj is not None and obj.data.is_editmode for obj in found)


def figures(scene: Any) -> list[tuple[str, float, float, float]]:
    """The plan's figures by area."""
    return [(f"{area['kind']} {area['number']}", area["volume_mm3"], area["area_mm2"], area["depth_max_mm"])
            for area in record_of(scene)["areas"]]


def results(scene: Any) -> tuple[Any, ...]:
    """What the scene shows of its plan: the depths on the panel, and the fill."""
    own = scene.fillwright
    depths = tuple(values(entry.obj.data, "fillwright_depth_mm") for entry in own.carriers if entry.obj is not None)
    fill = [obj for obj in scene.objects if obj.get("fillwright_result") == "Fill"]
    return depths, tuple(geometry(obj.data) for obj in fill)


def _objects(own: Any, role: str) -> list[Any]:
    collection = getattr(own, f"{role}_collection")
    if collection is None:
        return [getattr(own, role)]
    return [obj for obj in collection.all_objects if obj.type == "MESH" and not is_ours(obj)] or [None]


def _thing(obj: Any, with_marks: bool) -> tuple[Any, ...]:
    modifiers = tuple((m.type, m.show_viewport, getattr(m, "strength", 0.0)) for m in obj.modifiers)
    return geometry(obj.data), place(obj), modifiers, _marks(obj) if with_marks else None


def _marks(obj: Any) -> tuple[int, ...] | None:
    group = obj.vertex_groups.get("Work Area")
    if group is None:
        return None
    return tuple(v.index for v in obj.data.vertices
                 if any(g.group == group.index and g.weight > 0.5 for g in v.groups))


def _settings(scene: Any) -> tuple[Any, ...]:
    own = scene.fillwright
    units = [own.panel_mm_per_unit if unit == "OWN" else _MM.get(unit, 1000.0 * scene.unit_settings.scale_length)
             for unit in (own.panel_unit, own.target_unit)]
    found = [getattr(own, name) for name in (*_CHOICES, *_NUMBERS)]
    if own.painted == "PAINTED":
        found.append(own.paint_mm)
    if own.scanner == "TESTED":
        found += [own.tested_error_mm, own.tested_length_mm]
    return (*found, *units)


def users_geometry() -> dict[str, str]:
    """All meshes of the user's objects, by name."""
    return {obj.data.name: geometry(obj.data) for obj in bpy.data.objects
            if obj.type == "MESH" and not is_ours(obj) and not obj.data.is_editmode}


def users_places() -> dict[int, tuple[Any, ...]]:
    """Where all of the user's objects stand."""
    return {obj.session_uid: tuple(x for row in obj.matrix_basis for x in row)
            for obj in bpy.data.objects if not is_ours(obj)}
