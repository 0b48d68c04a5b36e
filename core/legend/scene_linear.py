"""Display colours as the scene-linear ones that Blender keeps. Needs numpy only."""

from __future__ import annotations

from typing import Any

import numpy as np


def linear(srgb: Any) -> Any:
    """Display colours, 0 to 1, as scene-linear ones (IEC 61966-2-1), of the same shape and precision.

    >>> linear(np.array([0.0, 0.5, 1.0])).round(4).tolist()
    [0.0, 0.214, 1.0]
    """
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)
