"""What happened to the invented tailgate: lows, a crease, and the scanner's noise. All in mm.

Damage moves a point of the sheet against its normal by ``depth``: positive is low, negative stands proud.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, map_coordinates
from tailgate_surface import END_MM, HALF_WIDTH_MM, TOP_MM, curvatures, points_and_normals, slopes

Floats = NDArray[np.float64]

NOISE_SIGMA_MM, NOISE_LENGTH_MM = 0.05, 8.0
TRUE_MM = 0.25  # within this a panel counts as true
_NOISE_STEP_MM, _NOISE_MARGIN_MM = 1.0, 20.0


@dataclass(frozen=True)
class Damage:
    """A cosine bump or hollow over an ellipse in plan: depth/2 (1 + cos(pi r)) where r is 1 at the ellipse."""

    name: str
    centre_mm: tuple[float, float]
    half_axes_mm: tuple[float, float]
    turn_deg: float
    depth_mm: float

    def reach(self, x: Floats, y: Floats) -> Floats:
        """0 at the middle, 1 on the ellipse."""
        turn = np.radians(self.turn_deg)
        dx, dy = x - self.centre_mm[0], y - self.centre_mm[1]
        along, across = dx * np.cos(turn) + dy * np.sin(turn), dy * np.cos(turn) - dx * np.sin(turn)
        return np.hypot(along / self.half_axes_mm[0], across / self.half_axes_mm[1])

    def depth(self, x: Floats, y: Floats) -> Floats:
        """Depth at plan points, mm; zero outside the ellipse."""
        return self.depth_mm / 2 * (1 + np.cos(np.pi * np.minimum(self.reach(x, y), 1.0)))


DAMAGE = (
    Damage("deep low, beyond what solder should fill", (-190.0, -80.0), (60.0, 60.0), 0.0, 4.5),
    Damage("low at the upper rim", (130.0, TOP_MM), (75.0, 40.0), 0.0, 2.4),
    Damage("low in the handle pocket", (18.0, 70.0), (26.0, 26.0), 0.0, 1.5),
    Damage("high crease beside the deep low", (-98.0, -76.0), (62.0, 14.0), 80.0, -0.8),
)


def depth(x: Floats, run: Floats) -> Floats:
    """Depth of all the damage together, mm; the flange is sound."""
    return sum((each.depth(x, run) for each in DAMAGE), np.zeros_like(x))


class Noise:
    """Smooth scanner noise: covariance sigma^2 exp(-d^2 / (2 l^2)), d measured along the flattened sheet.

    White noise on a fine grid, smoothed with a Gaussian of l/sqrt(2): smoothing twice by s correlates over s sqrt(2).
    """

    def __init__(self, generator: np.random.Generator) -> None:
        spread = NOISE_LENGTH_MM / np.sqrt(2) / _NOISE_STEP_MM
        self._low = np.array([-HALF_WIDTH_MM, END_MM]) - _NOISE_MARGIN_MM
        size = np.array([2 * HALF_WIDTH_MM, TOP_MM - END_MM]) + 2 * _NOISE_MARGIN_MM
        white = generator.standard_normal(np.ceil(size / _NOISE_STEP_MM).astype(int) + 1)
        # The mean square of white noise under that filter is 1 / (4 pi spread^2).
        self._field = gaussian_filter(white, spread) * (NOISE_SIGMA_MM * np.sqrt(4 * np.pi) * spread)

    def __call__(self, x: Floats, run: Floats) -> Floats:
        """Noise at points of the sheet, mm, to be added to depth."""
        at = (np.array([x, run]) - self._low[:, None]) / _NOISE_STEP_MM
        return map_coordinates(self._field, at, order=3)


def known_answer(damage: Damage, noise: Noise, steps: int = 1200) -> dict[str, object]:
    """Volume, area and depth of one damage, by the midpoint rule over its box in plan, cut at the upper rim.

    Steiner's formula for a layer of thickness d under a surface: the integral of d - d^2 H + d^3 K / 3
    over its area, H and K the mean and Gaussian curvature. A high's volume is that above the surface.
    """
    half = np.hypot(*damage.half_axes_mm) if damage.turn_deg else np.array(damage.half_axes_mm)
    low, top = np.array(damage.centre_mm) - half, np.minimum(np.array(damage.centre_mm) + half, [np.inf, TOP_MM])
    step = (top - low) / steps
    middle = low + (np.arange(steps)[:, None] + 0.5) * step
    x, y = (each.ravel() for each in np.meshgrid(middle[:, 0], middle[:, 1]))
    inside = damage.reach(x, y) < 1.0
    x, y = x[inside], y[inside]
    d, (mean, gauss), (zx, zy) = damage.depth(x, y), curvatures(x, y), slopes(x, y)
    area = np.sqrt(1 + zx**2 + zy**2) * step.prod()
    volume = float(((d - d**2 * mean + d**3 * gauss / 3) * area).sum())
    foot, normal = points_and_normals(*(np.array([c]) for c in damage.centre_mm))
    sign = 1.0 if damage.depth_mm > 0 else -1.0
    return {
        "name": damage.name,
        "kind": "low" if damage.depth_mm > 0 else "high",
        "volume_mm3": round(sign * volume, 2),
        "noise_volume_mm3": round(sign * float((noise(x, y) * area).sum()), 1),
        "area_mm2": round(float(area.sum()), 1),
        "area_off_true_mm2": round(float(area[np.abs(d) > TRUE_MM].sum()), 1),
        "depth_max_mm": abs(damage.depth_mm),
        "deepest_point_mm": (foot - damage.depth_mm * normal)[0].round(3).tolist(),
        "reaches_rim": bool(damage.centre_mm[1] + half.min() > TOP_MM),
        "plan": {
            "centre_mm": damage.centre_mm, "half_axes_mm": damage.half_axes_mm, "turn_deg": damage.turn_deg
        },
    }
