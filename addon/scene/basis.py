"""What a plan is made from and with: the meshes, and the settings by core's names."""

from __future__ import annotations

import json
from typing import Any

import bpy

from ...core.bench.hand import HANDS, SCANNERS, TESTED
from ...core.settings import Settings
from ..names.choices import material_figures
from ..names.plain_settings import PLAIN
from .lined_up import placing
from .scene_meshes import MeshArrays, fingerprint, mm_per_unit


def made_with(scene: bpy.types.Scene) -> str:
    """The scene's settings as a text to compare."""
    own = scene.fillwright
    units = [mm_per_unit(scene, own.panel_unit), mm_per_unit(scene, own.target_unit)]
    return json.dumps([settings_of(own), material_figures(own.material), own.use_work_area,
                       [round(unit, 9) for unit in units], placing(own)])


def made_from(meshes: tuple[MeshArrays, ...]) -> str:
    """The meshes of panel and shape as a text to compare."""
    return "; ".join(fingerprint(mesh) for mesh in meshes)


def settings_of(own: Any) -> dict[str, object]:
    """The scene's settings by core's names."""
    return {
        "material": own.material,
        "surface": own.surface,
        "finish_mm": _typed(own.paint_mm) if own.painted == "PAINTED" else 0.0,
        **{name: _typed(getattr(own, name)) for name in PLAIN},
        **HANDS[own.hand].figures,
        **SCANNERS[own.scanner].figures,
        **(_tested(own) if own.scanner == TESTED else {}),
    }


def _tested(own: Any) -> dict[str, float]:
    return {"scan_error_mm": _typed(own.tested_error_mm), "scan_error_length_mm": _typed(own.tested_length_mm)}


def _typed(value: float) -> float:
    """The number that was typed: Blender keeps it in single precision, and 0.01 as less than 0.01."""
    return float(f"{value:.6g}")


def whole_settings(own: Any) -> Settings:
    """The same, checked."""
    return Settings().changed(settings_of(own))
