"""A crowned panel of 500 x 400 mm with dents, scanned with known noise in a frame of its own, and its shape."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from core.place.fit import InitialPose, Target
from core.place.motion import Motion, from_pairs
from core.place.register import Registered, register
from core.surface.nearest import Tree
from core.surface.surface import Floats, Mask, Surface
from tests.core.shapes import cosine_dent, grid_points, noise_field, sheet

LONG_MM, SHORT_MM = 2500.0, 1500.0  # radii of the crown
PAST_MM, STEP_MM = 32.0, 4.0
SIGMA_MM = 0.05
# Volume pi a^2 d (1/2 - 2/pi^2) (calculus): pi 80^2 2.85 0.29736 = 17.04 cm3.
ONE_DENT = ((180.0, 150.0, 80.0, 2.85),)
# Together a quarter of the panel: three lows and a high.
FOUR_DENTS = ((120.0, 120.0, 75.0, 5.0), (380.0, 300.0, 75.0, -2.0), (400.0, 90.0, 55.0, 3.0), (90.0, 320.0, 45.0, 2.0))


def crown(x: Floats, y: Floats) -> Floats:
    """Height of a crowned roof over the plane, its top over the middle of the panel, mm."""
    return -((x - 250) ** 2) / (2 * LONG_MM) - (y - 200) ** 2 / (2 * SHORT_MM)


def shape() -> Surface:
    """The finished shape, a little larger than the panel."""
    x, y = grid_points(500 + 2 * PAST_MM, 400 + 2 * PAST_MM, STEP_MM)
    x, y = x - PAST_MM, y - PAST_MM
    return sheet(x, y, crown(x, y))


def facets(x: Floats, y: Floats) -> Floats:
    """Height of that shape's own triangles, mm: they lie up to 0.003 mm below the crown, which noise hides no more.

    Cells are cut from their first corner to the one across, see shapes.grid_rows.
    """
    i, j = np.floor(x / STEP_MM), np.floor(y / STEP_MM)
    u, v = x / STEP_MM - i, y / STEP_MM - j
    a, b, c, d = (crown((i + p) * STEP_MM, (j + q) * STEP_MM) for p, q in ((0, 0), (1, 0), (1, 1), (0, 1)))
    return np.where(u >= v, a + u * (b - a) + v * (c - b), a + v * (d - a) + u * (c - d))


@dataclass(frozen=True)
class Scan:
    """A scan: ``panel`` as the scanner has it, ``away`` the motion that took it there from ``sound`` (n, 3), the points
    where they should be; ``dent_mm`` (n,)."""

    panel: Surface
    away: Motion
    sound: Floats
    dent_mm: Floats

    @property
    def clean(self) -> Mask:
        """Where there is no damage, (n,)."""
        return self.dent_mm == 0


def scan(
    seed: int, length_mm: float, sigma_mm: float = SIGMA_MM,
    dents: tuple[tuple[float, float, float, float], ...] = FOUR_DENTS, away: Motion | None = None,
) -> Scan:
    """A scan with noise that agrees over ``length_mm``, turned 10 degrees and shifted 50 mm, its points between those
    of the shape."""
    rng = np.random.default_rng(seed)
    x, y = grid_points(500.0, 400.0, STEP_MM)
    z = facets(x + 0.3, y + 0.6)
    dent = sum((cosine_dent(x, y, (a, b), (half, half), deep) for a, b, half, deep in dents), np.zeros_like(x))
    sound = np.stack([x + 0.3, y + 0.6, z], axis=-1).reshape(-1, 3)
    noisy = z - dent + noise_field(x.shape, STEP_MM, length_mm, sigma_mm, rng)
    axis, shift = rng.standard_normal((2, 3))
    if away is None:
        away = _motion(np.radians(10) * axis / np.linalg.norm(axis), 50 * shift / np.linalg.norm(shift))
    return Scan(away.surface(sheet(x + 0.3, y + 0.6, noisy)), away, sound, dent.ravel())


def _motion(turn: Floats, shift: Floats) -> Motion:
    """Rodrigues' formula (textbook), about the panel's middle, without the code under test."""
    angle = np.linalg.norm(turn)
    a, b, c = turn / angle
    skew = np.array([[0, -c, b], [c, 0, -a], [-b, a, 0]])
    rotation = np.eye(3) + np.sin(angle) * skew + (1 - np.cos(angle)) * skew @ skew
    middle = np.array([250.0, 200.0, 0.0])
    return Motion(rotation, middle + shift - rotation @ middle)


def landmarks(made: Scan, seed: int, wrong_mm: float = 5.0) -> tuple[Floats, Floats]:
    """Four corners and the middle, clicked on scan and shape, each up to ``wrong_mm`` off, (5, 3) each."""
    rng = np.random.default_rng([seed, 1])
    corners = [0, 100, len(made.sound) - 101, len(made.sound) - 1, len(made.sound) // 2]
    off = rng.standard_normal((5, 3))
    off *= wrong_mm * rng.uniform(0, 1, (5, 1)) / np.linalg.norm(off, axis=1, keepdims=True)
    return made.panel.vertices[corners] + off, made.sound[corners]


def target_of(surface: Surface, reach_mm: float = 60.0) -> Target:
    """A shape ready to be lined up with."""
    return Target(surface, Tree(surface), reach_mm)


def lined_up(made: Scan, target: Target, seed: int) -> tuple[Registered, Floats]:
    """The line-up from landmarks 5 mm wrong, and how far it is wrong along the normal at every point, (n,) mm."""
    fit = register(made.panel, target, InitialPose(from_pairs(*landmarks(made, seed))))
    return fit, wrong_mm(made, fit.motion)


def wrong_mm(made: Scan, motion: Motion) -> Floats:
    """Height of the sound points over the shape's triangles after the motion, along the normal, (n,) mm."""
    placed = (motion @ made.away).of(made.sound)
    x, y = placed[:, 0], placed[:, 1]
    return (placed[:, 2] - facets(x, y)) * normals(placed)[:, 2]


def normals(points: Floats) -> Floats:
    """The crown's unit normals, (n, 3)."""
    x, y = points[:, 0] - 250, points[:, 1] - 200
    up = np.stack([x / LONG_MM, y / SHORT_MM, np.ones_like(x)], axis=1)
    return up / np.linalg.norm(up, axis=1, keepdims=True)


def odd(x: Floats, y: Floats) -> Floats:
    """Height of a panel of 300 x 200 mm that is like none of its mirror images and turns, mm."""
    crowned = -((x - 150) ** 2) / 700 - (y - 100) ** 2 / 500
    swell = 12 * np.exp(-((x - 240) ** 2 + (y - 40) ** 2) / (2 * 40**2))
    return crowned + swell + 6 * np.exp(-(((x - 60) / 30) ** 2))


def odd_shape(step: float = 4.0) -> Surface:
    """That panel's finished shape, 10 mm larger all around."""
    x, y = grid_points(320, 220, step)
    return sheet(x - 10, y - 10, odd(x - 10, y - 10))


def odd_panel(step: float = 5.0, sigma_mm: float = 0.03, seed: int = 0) -> Surface:
    """A scan of it with a dent 3 mm deep, in the shape's own frame."""
    x, y = grid_points(300, 200, step)
    noise = noise_field(x.shape, step, 0.0, sigma_mm, np.random.default_rng(seed))
    return sheet(x, y, odd(x, y) - cosine_dent(x, y, (150, 120), (40, 40), 3.0) + noise)
