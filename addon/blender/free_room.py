"""The part of a 3D view that nothing lies over."""

from __future__ import annotations

import bpy


def free_room(area: bpy.types.Area, region: bpy.types.Region) -> tuple[float, float, float, float]:
    """Left, bottom, width and height of the view that no toolbar, sidebar or header lies over, in its own pixels."""
    left, right, bottom, top = region.x, region.x + region.width, region.y, region.y + region.height
    for other in area.regions:
        if other.type == "WINDOW" or other.width <= 1 or other.height <= 1:
            continue
        if other.alignment == "LEFT":
            left = max(left, other.x + other.width)
        elif other.alignment == "RIGHT":
            right = min(right, other.x)
        elif other.alignment == "BOTTOM":
            bottom = max(bottom, other.y + other.height)
        elif other.alignment == "TOP":
            top = min(top, other.y)
    return left - region.x, bottom - region.y, right - left, top - bottom
