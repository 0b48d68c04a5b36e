"""Where a plate of words goes beside the mouse: inside the free view, and not over what is pointed at."""

from __future__ import annotations

Place = tuple[float, float]
Room = tuple[float, float, float, float]


def beside(mouse: Place, size: Place, free: Room, gap: float) -> Place:
    """The lower left corner of a plate of ``size`` (width, height): right of the mouse by ``gap``, else left of it,
    else above, else below; moved into ``free`` (left, bottom, width, height) where it would stand out. y runs up.

    In a view that is smaller than the plate, at the view's upper left corner.

    >>> beside((100, 100), (80, 40), (0, 0, 400, 300), 20)
    (120.0, 80.0)
    >>> beside((390, 295), (80, 40), (0, 0, 400, 300), 20)
    (290.0, 260.0)
    """
    (x, y), (width, height), (left, bottom, across, up) = mouse, size, free
    corners = [
        (x + gap, y - height / 2), (x - gap - width, y - height / 2), (x - width / 2, y + gap),
        (x - width / 2, y - gap - height),
    ]
    rooms = [left + across - x, x - left, bottom + up - y, y - bottom]
    needs = [width + gap, width + gap, height + gap, height + gap]
    best = next((k for k in range(4) if rooms[k] >= needs[k]), 0)
    corner_x = max(left, min(corners[best][0], left + across - width))
    corner_y = min(max(corners[best][1], bottom), bottom + up - height)
    return float(corner_x), float(corner_y)
