"""While a mark is painted it shows as chalk on grey metal, not in Blender's rainbow of weights.

The colours of weights are one of the user's own preferences: kept in ours meanwhile, so that they can be given back
even after Blender was killed, and given back as soon as no view is in Weight Paint.
"""

from __future__ import annotations

import json
from typing import Any

import bpy

from ..names.choices import preferences

_LOOK_S = 0.5
_METAL, _CHALK = (0.30, 0.30, 0.31, 1.0), (0.93, 0.92, 0.88, 1.0)
_RAMP = ((0.0, _METAL), (0.49, _METAL), (0.51, _CHALK), (1.0, _CHALK))  # over a half counts as inside


def take() -> None:
    """Have weights shown in chalk; the user's own colours are kept, unless they are kept already."""
    own = preferences()
    if own is None or own.weight_colours:
        return
    view = bpy.context.preferences.view
    ramp = [(stop.position, tuple(stop.color)) for stop in view.weight_color_range.elements]
    own.weight_colours = json.dumps([view.use_weight_color_range, ramp])
    _write(True, _RAMP)
    if not bpy.app.timers.is_registered(_look):
        bpy.app.timers.register(_look, first_interval=_LOOK_S, persistent=True)


def give_back() -> None:
    """Give the user's own colours of weights back, where they were taken."""
    own = preferences()
    if own is not None and own.weight_colours:
        _write(*json.loads(own.weight_colours))
        own.weight_colours = ""


def _look() -> float | None:
    """Whether it is painted still; None ends the timer."""
    if any(window.view_layer and _paints(window.view_layer) for window in bpy.context.window_manager.windows):
        return _LOOK_S
    give_back()
    return None


def _paints(layer: bpy.types.ViewLayer) -> bool:
    return layer.objects.active is not None and layer.objects.active.mode == "WEIGHT_PAINT"


def _write(used: bool, ramp: Any) -> None:
    view = bpy.context.preferences.view
    view.use_weight_color_range = used
    stops = view.weight_color_range.elements
    while len(stops) > 1:
        stops.remove(stops[-1])
    for place, (position, colour) in enumerate(ramp):
        stop = stops[0] if place == 0 else stops.new(position)
        stop.position, stop.color = position, colour


def register() -> None:
    """Also after a Blender that was killed while a mark was painted."""
    if not bpy.app.timers.is_registered(_look):
        bpy.app.timers.register(_look, first_interval=_LOOK_S, persistent=True)


def unregister() -> None:
    if bpy.app.timers.is_registered(_look):
        bpy.app.timers.unregister(_look)
    give_back()
