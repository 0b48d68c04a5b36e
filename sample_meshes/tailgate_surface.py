"""The invented tailgate skin as a formula: crowned face, handle pocket, hemmed lower flange. All in mm.

A point of the sheet has two coordinates: ``x`` across, and ``run`` up the sheet. On the face ``run`` is y.
Below the hem line it goes on as arc length: round the bend, then back up along the return flange.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CROWN_X_MM, CROWN_Y_MM = 2500.0, 1100.0  # radii at the middle of the face
HALF_WIDTH_MM, TOP_MM, CORNER_MM = 350.0, 210.0, 45.0
HEM_MM = -208.5  # the face ends here and the bend begins
BEND_RADIUS_MM, FLANGE_MM = 1.75, 12.0
BEND_MM = np.pi * BEND_RADIUS_MM  # arc length of the half turn
END_MM = HEM_MM - BEND_MM - FLANGE_MM  # run at the flange's free edge
POCKET_Y_MM, POCKET_HALF_LENGTH_MM, POCKET_HALF_HEIGHT_MM = 70.0, 80.0, 32.0
POCKET_WALL_MM, POCKET_DEPTH_MM = 20.0, 8.0
SPINE_MM = POCKET_HALF_LENGTH_MM - POCKET_HALF_HEIGHT_MM  # half of the line that the pocket is rounded about
HOLES_MM = (  # x, y, diameter: four bolts and the lock
    (-310.0, 168.0, 8.0), (310.0, 168.0, 8.0), (-310.0, -165.0, 8.0), (310.0, -165.0, 8.0), (0.0, 8.0, 20.0),
)


def spine_distance(x: Floats, y: Floats) -> Floats:
    """Distance in plan from the pocket's middle line, mm; the pocket's outline lies at its half height."""
    return np.hypot(np.maximum(np.abs(x) - SPINE_MM, 0.0), y - POCKET_Y_MM)


def _pocket_slopes(distance: Floats) -> tuple[Floats, Floats, Floats]:
    """Depth of the pocket and its first two derivatives by distance; a cosine wall, so the blends are round."""
    turn = np.pi * np.clip((POCKET_HALF_HEIGHT_MM - distance) / POCKET_WALL_MM, 0.0, 1.0)
    half, rate = POCKET_DEPTH_MM / 2.0, np.pi / POCKET_WALL_MM
    on_wall = (turn > 0.0) & (turn < np.pi)
    return half * (1 - np.cos(turn)), -half * rate * np.sin(turn), half * rate**2 * np.cos(turn) * on_wall


def height(x: Floats, y: Floats) -> Floats:
    """Height z of the face over the plan point (x, y)."""
    return -(x**2) / (2 * CROWN_X_MM) - y**2 / (2 * CROWN_Y_MM) - _pocket_slopes(spine_distance(x, y))[0]


def slopes(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """dz/dx and dz/dy of the face."""
    distance = spine_distance(x, y)
    over = np.maximum(np.abs(x) - SPINE_MM, 0.0) * np.sign(x)
    rate = _pocket_slopes(distance)[1] / np.where(distance > 0, distance, 1.0)
    return -x / CROWN_X_MM - rate * over, -y / CROWN_Y_MM - rate * (y - POCKET_Y_MM)


def curvatures(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Mean (1/mm) and Gaussian (1/mm2) curvature of the face; the mean is positive where it bulges outward.

    Source: do Carmo, Differential Geometry of Curves and Surfaces, section 3-3, graph of a function (from memory).
    """
    distance = spine_distance(x, y)
    safe = np.where(distance > 0, distance, 1.0)
    over = np.maximum(np.abs(x) - SPINE_MM, 0.0) * np.sign(x)
    a, b = over / safe, (y - POCKET_Y_MM) / safe  # gradient of the distance
    _, first, second = _pocket_slopes(distance)
    around = np.where(over == 0.0, 0.0, first / safe)  # a straight wall does not turn in plan
    zxx = -1 / CROWN_X_MM - (second * a * a + around * b * b)
    zyy = -1 / CROWN_Y_MM - (second * b * b + around * a * a)
    zxy = -(second - around) * a * b
    zx, zy = slopes(x, y)
    stretch = 1 + zx**2 + zy**2
    mean = -((1 + zy**2) * zxx - 2 * zx * zy * zxy + (1 + zx**2) * zyy) / (2 * stretch**1.5)
    return mean, (zxx * zyy - zxy**2) / stretch**2


def points_and_normals(x: Floats, run: Floats) -> tuple[Floats, Floats]:
    """Points (n, 3) of the sheet in mm and its unit normals (n, 3), outward: up on the face, down under the flange."""
    y = np.maximum(run, HEM_MM)
    z, (zx, zy) = height(x, y), slopes(x, y)
    turn = np.clip((HEM_MM - run) / BEND_RADIUS_MM, 0.0, np.pi)
    back = np.maximum(HEM_MM - run - BEND_MM, 0.0)
    length = np.hypot(1.0, zy)
    down = np.column_stack([np.zeros_like(x), -1 / length, -zy / length])  # along the sheet at the hem line
    up = np.column_stack([np.zeros_like(x), -zy / length, 1 / length])
    sine, cosine = np.sin(turn)[:, None], np.cos(turn)[:, None]
    points = np.column_stack([x, y, z])
    points += (BEND_RADIUS_MM * sine - back[:, None]) * down - BEND_RADIUS_MM * (1 - cosine) * up
    across = np.column_stack([np.ones_like(x), np.zeros_like(x), zx])
    normals = np.cross(across, sine * up - cosine * down)
    return points, normals / np.linalg.norm(normals, axis=1, keepdims=True)
