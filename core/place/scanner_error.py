"""How far a scanner can be trusted: two scans of one panel, lined up and compared."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..progress import Progress, silent
from ..statistics.noise import Noise
from ..surface.surface import Surface
from ..surface.weights import barycentric
from .fit import InitialPose, Target
from .register import Registered, register


@dataclass(frozen=True, eq=False)
class ScannerError:
    """A scanner's own error: ``error_mm``, agreeing with itself over ``length_mm`` (0: white); ``fit``: the line-up."""

    error_mm: float
    length_mm: float
    fit: Registered

    def settings(self) -> str:
        """The figures as lines for a settings file."""
        return f"scan_error_mm = {self.error_mm:.4f}\nscan_error_length_mm = {self.length_mm:.2f}\n"


def scanner_error(one: Surface, other: Target, start: InitialPose, progress: Progress = silent) -> ScannerError:
    """The error of a scanner from scan ``one`` against the ``other`` of the same panel in the same state.

    Both scans err alike and apart, so either's smooth error is the difference's over the square root of two. Of the
    white error the other scan shows less, for its triangles take the mean of their corners.
    """
    fit = register(one, other, start, progress=progress)
    return error_left(fit.motion.surface(one), other, fit)


def error_left(one: Surface, other: Target, fit: Registered) -> ScannerError:
    """The same of a scan ``one`` that lies on the ``other`` already, by the ``fit`` that has brought it there."""
    here, facing = one.vertices[fit.sound], one.vertex_normals[fit.sound]
    depth = other.depth(here, facing)
    weights = barycentric(depth.feet[depth.judged], depth.triangle[depth.judged], other.surface)
    left = float(np.mean(np.sum(weights**2, axis=1)))
    white, smooth = fit.noise.white_mm / float(np.sqrt(1 + left)), fit.noise.smooth_mm / float(np.sqrt(2))
    own = replace(fit.noise, white_mm=white, smooth_mm=smooth)
    return ScannerError(own.sigma_mm, _one_length_mm(own), fit)


def _one_length_mm(noise: Noise) -> float:
    """The one length that, with all of the noise smooth, leaves a large area's mean as uncertain as it is, mm.

    0 where the white part has more to say there than the smooth one.
    """
    white, smooth = noise.white_mm**2 * noise.cell_mm2, noise.smooth_mm**2 * 2 * np.pi * noise.length_mm**2
    if smooth <= white:
        return 0.0
    return float(np.sqrt((white + smooth) / (2 * np.pi)) / noise.sigma_mm)
