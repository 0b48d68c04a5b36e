"""Fillwright in Blender: meshes in, attributes and objects out. No arithmetic of its own."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from importlib import import_module
from types import ModuleType

import bpy

# In the order of registration. Each module has CLASSES and, where it needs more, register() and unregister().
_MODULES: tuple[str, ...] = (
    "preferences",
    "state_maps",
    "state_shape",
    "state",
    "plan_operator",
    "sample",
    "sample_bonnet",
    "set_size",
    "work_area",
    "lasso",
    "shape_operators",
    "shape_set_off",
    "suggest_damage",
    "shape_shown",
    "plane_from_points",
    "line_up",
    "landmarks",
    "weigh_up",
    "weigh_up_live",
    "areas_list",
    "fill_map",
    "show_map",
    "map_legend",
    "chalk",
    "read_depth",
    "make_fill",
    "staleness",
    "panels",
    "menus",
    "picture",
    "command_line",
)


def _modules() -> list[ModuleType]:
    return [import_module(f".{name}", __package__) for name in _MODULES]


def register() -> None:
    """All of it, or none: what was registered before a failure is taken out again."""
    modules = _modules()
    done: list[type] = []
    begun: list[ModuleType] = []
    try:
        for module in modules:
            for cls in module.CLASSES:
                bpy.utils.register_class(cls)
                done.append(cls)
            begun.append(module)
            if hasattr(module, "register"):
                module.register()
    except Exception:
        with suppress(Exception):  # what failed first is what is told
            _take_out(begun, done)
        raise


def unregister() -> None:
    """Take everything out again."""
    modules = _modules()
    _take_out(modules, [cls for module in modules for cls in module.CLASSES])


def _take_out(modules: list[ModuleType], classes: list[type]) -> None:
    """In the opposite order, to the end; an unregister() must bear that its register() has failed half-way."""
    steps = [module.unregister for module in reversed(modules) if hasattr(module, "unregister")]
    steps += [partial(bpy.utils.unregister_class, cls) for cls in reversed(classes)]
    failed: list[Exception] = []
    for step in steps:
        try:
            step()
        except Exception as error:  # whatever it is, the rest must still go; it is raised below
            failed.append(error)
    if failed:
        raise failed[0]
