"""The invented bonnet as a formula: crowned both ways, a raised centre line, two swage lines. All in mm.

x to the car's left and right of the middle, y forward, z up; mirror symmetric about x = 0. Nobody's car.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

REAR_HALF_WIDTH_MM, FRONT_HALF_WIDTH_MM, HALF_LENGTH_MM = 650.0, 570.0, 475.0
FRONT_BOW_MM = 60.0  # how far the front corners lie behind the front's middle
CROWN_X_MM, CROWN_Y_MM, FRONT_DROP_MM = 2100.0, 2800.0, 45.0
CENTRE_MM, CENTRE_WIDTH_MM = 9.0, 55.0
SWAGE_MM, SWAGE_WIDTH_MM, SWAGE_X_MM, SWAGE_SPLAY = 6.0, 24.0, 370.0, -0.09
_STEP_MM = 0.05


def outline(u: Floats, v: Floats) -> tuple[Floats, Floats]:
    """Plan place x, y of u (-1 to 1 across) and v (-1 at the rear edge to 1 at the front)."""
    middle, taper = (REAR_HALF_WIDTH_MM + FRONT_HALF_WIDTH_MM) / 2, (REAR_HALF_WIDTH_MM - FRONT_HALF_WIDTH_MM) / 2
    return u * (middle - taper * v), HALF_LENGTH_MM * v - FRONT_BOW_MM * u**2 * (1 + v) / 2


def height(x: Floats, y: Floats) -> Floats:
    """Height z of the skin over the plan point (x, y)."""
    crown = -(x**2) / (2 * CROWN_X_MM) - y**2 / (2 * CROWN_Y_MM)
    drop = -FRONT_DROP_MM * ((y + HALF_LENGTH_MM) / (2 * HALF_LENGTH_MM)) ** 4
    centre = CENTRE_MM * np.exp(-((x / CENTRE_WIDTH_MM) ** 2) / 2)
    swage = SWAGE_MM * np.exp(-(((np.abs(x) - SWAGE_X_MM - SWAGE_SPLAY * y) / SWAGE_WIDTH_MM) ** 2) / 2)
    return crown + drop + centre + swage


def slopes(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """dz/dx and dz/dy, by central differences: right to 1e-8 here."""
    h = _STEP_MM
    return (height(x + h, y) - height(x - h, y)) / (2 * h), (height(x, y + h) - height(x, y - h)) / (2 * h)


def points_and_normals(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Points (n, 3) of the skin and its unit normals (n, 3), up."""
    zx, zy = slopes(x, y)
    normals = np.stack([-zx, -zy, np.ones_like(x)], axis=1)
    return np.stack([x, y, height(x, y)], axis=1), normals / np.linalg.norm(normals, axis=1, keepdims=True)


def curvatures(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Mean (1/mm, positive where it bulges up) and Gaussian (1/mm2) curvature.

    Source: do Carmo, Differential Geometry of Curves and Surfaces, section 3-3, graph of a function (from memory).
    """
    h, (zx, zy) = _STEP_MM, slopes(x, y)
    (right, right_y), (left, left_y) = slopes(x + h, y), slopes(x - h, y)
    zxx, zxy = (right - left) / (2 * h), (right_y - left_y) / (2 * h)
    zyy = (slopes(x, y + h)[1] - slopes(x, y - h)[1]) / (2 * h)
    stretch = 1 + zx**2 + zy**2
    mean = -((1 + zy**2) * zxx - 2 * zx * zy * zxy + (1 + zx**2) * zyy) / (2 * stretch**1.5)
    return mean, (zxx * zyy - zxy**2) / stretch**2
