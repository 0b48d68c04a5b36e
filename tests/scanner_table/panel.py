"""A crowned panel with lows of known size, and scans of it by scanners of known noise, each in a frame of its own."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial.transform import Rotation

from core.place.onto import Landmarks
from core.surface.surface import Floats, Surface
from tests.core.place.crowned import crown, normals
from tests.core.shapes import cosine_dent, grid_points, moved, noise_field, sheet

SIDE_MM, PITCH_MM, PAST_MM, SHAPE_STEP_MM = 720.0, 180.0, 40.0, 8.0
_TOP_MM = np.array([250.0, 200.0])  # the crown's, which lies in the middle of the panel
_CORNER_MM = _TOP_MM - SIDE_MM / 2
_TURN_DEG, _SHIFT_MM, _CLICK_MM = 10.0, 50.0, 2.0


@dataclass(frozen=True)
class Low:
    """A cosine dent, ``width_mm`` from edge to edge."""

    depth_mm: float
    width_mm: float

    @property
    def volume_mm3(self) -> float:
        """pi a^2 d (1/2 - 2/pi^2) (calculus)."""
        return float(np.pi * (self.width_mm / 2) ** 2 * self.depth_mm * (0.5 - 2 / np.pi**2))


PALM_MM = 100.0
TYPICAL, LAID = Low(2.0, PALM_MM), Low(5.0, PALM_MM)  # rougher scanners find the deeper one, too
DEPTHS_MM = (0.3, 0.4, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 8.0, 12.0)
WIDTHS_MM = (15.0, 20.0, 30.0, 40.0, 60.0, 100.0)
LOWS = (*(Low(depth, PALM_MM) for depth in DEPTHS_MM), *(Low(TYPICAL.depth_mm, width) for width in WIDTHS_MM[:-1]))
CENTRES_MM = _CORNER_MM + PITCH_MM * (0.5 + np.stack(np.divmod(np.arange(len(LOWS)), 4), axis=1))


@dataclass(frozen=True)
class Scanner:
    """``noise_mm``: standard deviation of one point, of which the share ``smooth`` (by variance) agrees over
    ``length_mm`` and the rest is white; ``step_mm`` from one point to the next."""

    noise_mm: float
    step_mm: float
    length_mm: float = 15.0
    smooth: float = 0.5


@dataclass(frozen=True, eq=False)
class Scan:
    """A scan as the scanner has it: ``panel`` over a grid of points ``x`` and ``y`` (nx, ny), which lie ``true_mm``
    (nx, ny) below the shape; ``clicks`` on both to line it up from."""

    panel: Surface
    x: Floats
    y: Floats
    true_mm: Floats
    clicks: Landmarks


def shape() -> Surface:
    """The finished shape, a little larger than the panel; its facets lie up to 0.01 mm under the crown."""
    x, y = (each - PAST_MM for each in grid_points(SIDE_MM + 2 * PAST_MM, SIDE_MM + 2 * PAST_MM, SHAPE_STEP_MM))
    return _crowned(x + _CORNER_MM[0], y + _CORNER_MM[1])


def scan(scanner: Scanner, seed: int, lows: tuple[Low, ...] = LOWS) -> Scan:
    """The panel with ``lows`` as the scanner sees it; its points fall anywhere."""
    rng = np.random.default_rng(seed)
    x, y = grid_points(SIDE_MM, SIDE_MM, scanner.step_mm)
    x, y = (each + _CORNER_MM[k] + rng.uniform(0, scanner.step_mm) for k, each in enumerate((x, y)))
    dent = sum(
        (cosine_dent(x, y, (float(cx), float(cy)), (low.width_mm / 2,) * 2, low.depth_mm)
         for (cx, cy), low in zip(CENTRES_MM, lows, strict=False)), np.zeros_like(x),
    )
    sound = _crowned(x, y).vertices
    seen = _crowned(x, y, dent + _noise(scanner, (x.shape[0], x.shape[1]), rng))
    turn = Rotation.from_rotvec(_TURN_DEG * _direction(rng), degrees=True).as_matrix()
    away = moved(seen, turn, _SHIFT_MM * _direction(rng))
    nx, ny = x.shape
    clicked = [0, ny - 1, nx * ny // 2, nx * ny - ny, nx * ny - 1]
    clicks = Landmarks(away.vertices[clicked] + _CLICK_MM * rng.standard_normal((5, 3)), sound[clicked])
    return Scan(away, x, y, dent * normals(sound)[:, 2].reshape(nx, ny), clicks)


def _crowned(x: Floats, y: Floats, below_mm: Floats | float = 0.0) -> Surface:
    return sheet(x, y, crown(x, y) - below_mm)


def _noise(scanner: Scanner, size: tuple[int, int], rng: np.random.Generator) -> Floats:
    white, smooth = scanner.noise_mm * np.sqrt([1 - scanner.smooth, scanner.smooth])
    return noise_field(size, scanner.step_mm, 0.0, white, rng) + noise_field(
        size, scanner.step_mm, scanner.length_mm, smooth, rng
    )


def _direction(rng: np.random.Generator) -> Floats:
    way = rng.standard_normal(3)
    return way / np.linalg.norm(way)
