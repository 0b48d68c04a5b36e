"""The form of the metal under the map: soft light on what is true, so that crown, pocket and swage stay seen.

Colours that mean something are left alone.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..legend.legend import Legend, step_of
from ..legend.scene_linear import linear
from .views import looking_at

Floats = NDArray[np.float64]

RELIEF = 0.55  # how strongly true metal shows its form


def lit(normals: Floats, right: Floats, up: Floats, toward: Floats) -> Floats:
    """Light (n,), 0 to 1, on surfaces of these normals (n, 3) from above the viewer's left shoulder; either side."""
    lamp = -0.45 * right + 0.55 * up + 0.70 * toward
    facing = np.sign(normals @ toward)
    light: Floats = np.clip(0.5 + 0.5 * facing * (normals @ (lamp / np.linalg.norm(lamp))), 0.0, 1.0)
    return light


def relief(light: NDArray[Any], usual: NDArray[Any]) -> NDArray[np.float32]:
    """Share of chalk's lightness: 1 where the light is as on most of the true metal, and never far from it."""
    middle = np.float32(np.median(usual)) if usual.size else np.float32(1)
    return np.clip(1 + RELIEF * (light - middle), 0.75, 1.035).astype(np.float32)


def map_colours(depth_mm: NDArray[Any], key: Legend, normals: Floats) -> NDArray[np.float32]:
    """The map's colours of points with these depths (n,), nan where not judged, and unit normals (n, 3): scene-linear
    red, green, blue and 1, (n, 4); true metal with its form as it is seen square on.

    >>> from ..legend.legend import legend
    >>> map_colours(np.array([0.0, 2.0]), legend(), np.array([[0.0, 0, 1], [0, 0, 1]])).shape
    (2, 4)
    """
    step, colours = step_of(depth_mm, key), np.ones((len(depth_mm), 4), dtype=np.float32)
    palette = linear(np.array([one.colour for one in key.steps], dtype=np.float32) / np.float32(255))
    colours[:, :3] = palette[step]
    true = step == key.true_step
    view = looking_at(normals)
    light = lit(normals[true], view.right, view.up, view.toward)
    chalk = np.array(key.steps[key.true_step].colour, dtype=np.float32) / np.float32(255)
    colours[true, :3] = linear(np.minimum(chalk * relief(light, light)[:, None], np.float32(1)))
    return colours
