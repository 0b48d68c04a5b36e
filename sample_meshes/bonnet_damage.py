"""What happened to the invented bonnet, all on one side: lows, a ridge beside one, and the scanner's noise. In mm.

Damage moves a point against the skin's normal by ``depth``: positive is low, negative stands proud.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from bonnet_surface import curvatures, slopes
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates

Floats = NDArray[np.float64]

NOISE_SIGMA_MM, NOISE_LENGTH_MM = 0.05, 6.0
_NOISE_HALF_MM = (690.0, 520.0)


@dataclass(frozen=True)
class Damage:
    """A cosine hollow over an ellipse along the axes in plan: depth/2 (1 + cos(pi r)) where r is 1 at the ellipse."""

    name: str
    centre_mm: tuple[float, float]
    half_axes_mm: tuple[float, float]
    depth_mm: float

    def reach(self, x: Floats, y: Floats) -> Floats:
        """0 at the middle, 1 on the ellipse."""
        return np.hypot((x - self.centre_mm[0]) / self.half_axes_mm[0], (y - self.centre_mm[1]) / self.half_axes_mm[1])

    def depth(self, x: Floats, y: Floats) -> Floats:
        """Depth at plan points, mm; zero outside the ellipse."""
        return self.depth_mm / 2 * (1 + np.cos(np.pi * np.minimum(self.reach(x, y), 1.0)))


DAMAGE = (
    Damage("deep low, pushed in over the swage line", (400.0, 120.0), (125.0, 95.0), 9.0),
    Damage("shallow low near the rear", (235.0, -290.0), (80.0, 65.0), 2.0),
    Damage("high ridge beside the deep low", (215.0, 130.0), (26.0, 110.0), -1.2),
)


def depth(x: Floats, y: Floats) -> Floats:
    """Depth of all the damage together, mm."""
    return sum((each.depth(x, y) for each in DAMAGE), np.zeros_like(x))


class Noise:
    """Smooth scanner noise: covariance sigma^2 exp(-d^2 / (2 l^2)), d measured in plan.

    White noise on a 1 mm grid, smoothed by a Gaussian of l/sqrt(2): smoothing twice by s correlates over s sqrt(2).
    """

    def __init__(self, generator: np.random.Generator) -> None:
        spread = NOISE_LENGTH_MM / np.sqrt(2)
        white = generator.standard_normal([int(2 * half) + 1 for half in _NOISE_HALF_MM])
        # The mean square of white noise under that filter is 1 / (4 pi spread^2).
        self._field = gaussian_filter(white, spread) * (NOISE_SIGMA_MM * np.sqrt(4 * np.pi) * spread)

    def __call__(self, x: Floats, y: Floats) -> Floats:
        """Noise at plan points, mm, to be added to depth."""
        return map_coordinates(self._field, np.stack([x, y]) + np.array(_NOISE_HALF_MM)[:, None], order=3)


def known_answer(damage: Damage, steps: int = 800) -> dict[str, object]:
    """Volume, area and depth of one damage, by the midpoint rule over its box in plan.

    Steiner's formula for a layer of thickness d under a surface: the integral of d - d^2 H + d^3 K / 3
    over its area, H and K the mean and Gaussian curvature. A high's volume is that above the surface.
    """
    half = np.array(damage.half_axes_mm)
    step = 2 * half / steps
    middle = np.array(damage.centre_mm) - half + (np.arange(steps)[:, None] + 0.5) * step
    x, y = (each.ravel() for each in np.meshgrid(middle[:, 0], middle[:, 1]))
    inside = damage.reach(x, y) < 1.0
    x, y = x[inside], y[inside]
    d, (mean, gauss), (zx, zy) = damage.depth(x, y), curvatures(x, y), slopes(x, y)
    area = np.sqrt(1 + zx**2 + zy**2) * step.prod()
    volume = float(((d - d**2 * mean + d**3 * gauss / 3) * area).sum())
    return {
        "name": damage.name, "kind": "low" if damage.depth_mm > 0 else "high",
        "volume_mm3": round(abs(volume), 1), "area_mm2": round(float(area.sum()), 1),
        "depth_max_mm": abs(damage.depth_mm),
        "plan": {"centre_mm": damage.centre_mm, "half_axes_mm": damage.half_axes_mm},
    }
