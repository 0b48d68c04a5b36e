"""A line-up as a record, for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..depth.placing import Placing
from ..errors import InputError
from ..place.locating import Located
from ..place.onto import Onto
from ..surface.surface import Floats


def line_up_record(found: Onto) -> dict[str, Any]:
    """A line-up for JSON: ``matrix`` (4 x 4, mm) takes the panel's own frame into the shape's."""
    fit = found.fit
    held = fit.held_mm[np.isfinite(fit.held_mm)]
    return {
        "matrix": found.motion.matrix().tolist(),
        "turned": list(found.turned),
        "residual_mm": fit.residual_mm,
        "sound_share": fit.share,
        "noise": {"sigma_mm": fit.noise.sigma_mm, "correlation_mm": fit.noise.length_mm, "source": fit.noise.source},
        "uncertainty_mm": {"max": float(held.max()), "rms": float(np.sqrt(np.mean(held**2))),
                           "u95_max": fit.noise.factor_95 * float(held.max())},
        "held_directions": fit.covariance.held,
        "slide_u95_mm": fit.covariance.slide_mm,
        "located_by": None if fit.located is None else _located(fit.located),
        "sureness": found.sureness,
        "warnings": list(found.warnings),
    }


def placing_record(placing: Placing, origin: Floats) -> dict[str, Any]:
    """How well a line-up is known, for JSON; its centre in mm from the common frame's own origin."""
    return {"covariance": placing.covariance.tolist(), "centre_mm": (placing.centre + origin).tolist()}


def placing_of(record: dict[str, Any]) -> Placing:
    """What `placing_record` has kept, its centre counted from the common frame's origin.

    >>> placing_of({"covariance": [[1.0]], "centre_mm": [0, 0, 0]})
    Traceback (most recent call last):
    ...
    core.errors.InputError: placing: a covariance of (1, 1) about a centre of (3,) came; (6, 6) and (3,) are wanted
    """
    covariance, centre = (np.asarray(record[name], dtype=np.float64) for name in ("covariance", "centre_mm"))
    if covariance.shape != (6, 6) or centre.shape != (3,):
        raise InputError(f"placing: a covariance of {covariance.shape} about a centre of {centre.shape} came; "
                         "(6, 6) and (3,) are wanted")
    return Placing(covariance, centre)


def _located(by: Located) -> dict[str, Any]:
    return {"holes": by.holes, "of_holes": by.of_holes, "rim_mm": by.rim_mm, "of_rim_mm": by.of_rim_mm,
            "rim_off_mm": None if np.isnan(by.rim_off_mm) else by.rim_off_mm}
