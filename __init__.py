"""Fillwright as a Blender extension: this folder is the extension, and nothing is imported before it is asked for."""

from __future__ import annotations


def register() -> None:
    """Put Fillwright into Blender."""
    from .addon import register as register_addon

    register_addon()


def unregister() -> None:
    """Take Fillwright out of Blender."""
    from .addon import unregister as unregister_addon

    unregister_addon()
