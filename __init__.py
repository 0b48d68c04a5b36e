"""Fillwright as a Blender extension: this folder is the extension, and nothing is imported before it is asked for."""

from __future__ import annotations

import sys


def register() -> None:
    """Put Fillwright into Blender, if this is the zip for it."""
    try:
        from .addon import register as register_addon
        from .addon.right_zip import check

        check()
        register_addon()
    except Exception:
        _forget()  # else the next zip, put in over this one, would get the modules of this
        raise


def unregister() -> None:
    """Take Fillwright out of Blender."""
    from .addon import unregister as unregister_addon

    unregister_addon()


def _forget() -> None:
    for name in [name for name in sys.modules if name.startswith(f"{__package__}.")]:
        del sys.modules[name]
