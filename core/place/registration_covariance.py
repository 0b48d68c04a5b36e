"""What a line-up is worth: how well each of its six freedoms is held, and what to do about the weakest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..depth.placing import Placing, motion_jacobian
from ..statistics.noise import Noise
from ..surface.surface import Floats, cross, dot, normalised
from .agreed import agreed
from .locating import NO_ANCHORS, Anchors

# A freedom that moves the sheet along its normals by less than this share of what the best held one does is free.
_FREE = 1e-4
# Sliding further than this along the sheet puts holes and edges out of place.
_SLIDE_MM = 0.5


@dataclass(frozen=True, eq=False)
class RegistrationCovariance:
    """``placing``: the covariance; ``held``: how many of the six directions the shape holds at all; ``slide_mm``: 95 %
    of how far it slides along the sheet, root mean square over it; ``advice``: on the weakest way, or None."""

    placing: Placing
    held: int
    slide_mm: float
    advice: str | None


def registration_covariance(
    points: Floats, normals: Floats, areas_mm2: Floats, noise: Noise, prior_sigma_mm: float,
    anchors: Anchors = NO_ANCHORS, facing: Floats | None = None,
) -> RegistrationCovariance:
    """What a fit of ``points`` (n, 3) mm with smooth ``normals`` (n, 3), standing for ``areas_mm2`` (n,), is worth.

    The noise agrees with itself over an area A_corr, so n points are worth only their area over A_corr. What the
    shape does not hold is known as well as the start, to ``prior_sigma_mm``, and by the ``anchors``. ``facing`` (n, 3):
    the scan's own normals there; what it does not show of the shape's bumps does not hold it. None: it shows all.
    """
    total = float(areas_mm2.sum())
    centre = areas_mm2 @ points / total
    local = points - centre
    span = float(np.sqrt(areas_mm2 @ dot(local, local) / total))
    size = np.array([1 / span] * 3 + [1.0] * 3)  # turns counted by what they move at the sheet's own radius
    rows = motion_jacobian(local, normals) * size
    square = rows.T @ (rows * areas_mm2[:, None]) / total
    if facing is not None:
        known = agreed(square, rows.T @ (motion_jacobian(local, facing) * size * areas_mm2[:, None]) / total)
        square = known @ square @ known.T
    share = np.linalg.eigvalsh(square)
    held = share > _FREE * share.max()
    pulls = motion_jacobian(anchors.partners - centre, anchors.along) * size / anchors.sure_mm[:, None]
    sure, axes = np.linalg.eigh(square * (total / max(noise.of_area_mm4, 1e-12)) + pulls.T @ pulls)
    variance = 1.0 / (np.maximum(sure, 0.0) + 1.0 / prior_sigma_mm**2)
    directions = axes * size[:, None]
    placing = Placing((directions * variance) @ directions.T, centre)
    slides = noise.factor_95 * _slides(local, normals, areas_mm2, directions, variance)
    most = int(np.argmax(slides))
    lift = noise.factor_95 * float(np.sqrt(variance[most])) * float(np.abs(rows @ axes[:, most]).max())
    advice = _advice(float(slides[most]), lift, local, normals, directions[:, most])
    return RegistrationCovariance(placing, int(held.sum()), float(np.linalg.norm(slides)), advice)


def _slides(local: Floats, normals: Floats, areas: Floats, directions: Floats, variance: Floats) -> Floats:
    """Standard deviation of the slide along the sheet in each freedom, root mean square over the sheet, (6,) mm."""
    slides = np.zeros(6)
    for k in range(6):
        move = cross(np.broadcast_to(directions[:3, k], local.shape), local) + directions[3:, k]
        along = move - dot(move, normals)[:, None] * normals
        root_mean = float(np.sqrt(areas @ dot(along, along) / areas.sum()))
        slides[k] = root_mean * float(np.sqrt(variance[k])) if root_mean > 1e-9 else 0.0
    return slides


def _advice(reach: float, lift: float, local: Floats, normals: Floats, direction: Floats) -> str | None:
    """What to do about a slide that reaches so far along the sheet, mm, and lifts it off the shape by ``lift``, mm."""
    if reach <= _SLIDE_MM:
        return None
    way = _way(local, normals, direction)
    return (f"the panel can slide by {reach:.1f} mm {way}, which changes depths on sound metal by {lift:.2f} mm at "
            "most: click the handle hole or a corner")


def _way(local: Floats, normals: Floats, direction: Floats) -> str:
    """The slide in words: lengthwise, across, or about its middle."""
    facing = normalised(normals.mean(axis=0, keepdims=True))[0]
    shift = direction[3:] - (direction[3:] @ facing) * facing
    span = float(np.sqrt(np.mean(dot(local, local))))
    if abs(direction[:3] @ facing) * span > np.linalg.norm(shift):
        return "round about its middle"
    flat = local - np.outer(local @ facing, facing)
    lengthwise = np.linalg.svd(flat, full_matrices=False)[2][0]
    return "lengthwise" if abs(lengthwise @ shift) > 0.7 * np.linalg.norm(shift) else "across"
