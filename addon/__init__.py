"""Fillwright in Blender: meshes in, attributes and objects out. No arithmetic of its own."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType

import bpy

# Lowest first: a room imports those before it, and is registered after them. A module in a room takes part by having
# CLASSES, register() and unregister(), or any of these.
ROOMS = (
    "names", "blender", "scene", "state", "sidebar", "child", "map", "marks", "set_out", "finished_shape", "line_up",
    "weigh_up", "plan", "picture", "command", "menus",
)


def _modules() -> list[ModuleType]:
    rooms = [import_module(f".{room}", __package__) for room in ROOMS]
    return [import_module(f"{room.__name__}.{found.name}") for room in rooms for found in iter_modules(room.__path__)]


def _classes(module: ModuleType) -> tuple[type, ...]:
    classes: tuple[type, ...] = getattr(module, "CLASSES", ())
    return classes


def register() -> None:
    """All of it, or none: what was registered before a failure is taken out again."""
    modules = _modules()
    done: list[type] = []
    begun: list[ModuleType] = []
    try:
        for module in modules:
            for cls in _classes(module):
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
    _take_out(modules, [cls for module in modules for cls in _classes(module)])


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
